// All runs by what a search looks at, kept in memory and brought up to date from the change log: runs that agree in all of it form one group.
import type { Outcome } from '@guardband/model'
import type { LabDatabase } from './database.ts'
import { parseBody } from './record-store.ts'

export interface RunGroup {
  readonly startId: string
  readonly inForceId: string
  readonly workloadId: string
  readonly outcome: Outcome
  /** Null where there is none. */
  readonly place: string | null
  readonly setAside: string | null
}

export interface RunTable {
  /** Rising, which is the order in which runs were made. */
  readonly ids: readonly string[]
  /** By run, its place in `groups`. */
  readonly groupOf: readonly number[]
  /** Some may hold no run any more. */
  readonly groups: readonly RunGroup[]
  /** By group, how many runs it holds. */
  readonly counts: readonly number[]
}

export function createRunIndex(db: LabDatabase, head: () => number): () => RunTable {
  // This index holds all columns asked for, so no body is read.
  const all = db
    .prepare<[], [string, string, string, string, Outcome, string | null, string | null]>(`SELECT id, start_id, in_force_id, workload_id, outcome, place, set_aside FROM record INDEXED BY run_list WHERE kind = 'run' ORDER BY id`)
    .raw()
  const since = db.prepare<[number, number, number], { before: string | null; after: string | null }>(
    `SELECT before, after FROM change_item WHERE seq > ? AND seq <= ? AND kind = 'run' ORDER BY seq, place LIMIT ?`,
  )
  let kept: { head: number; readonly table: Building } | undefined

  const readAll = (now: number): { head: number; readonly table: Building } => {
    const table: Building = { ids: [], groupOf: [], groups: [], counts: [], places: new Map() }
    for (const [id, startId, inForceId, workloadId, outcome, place, setAside] of all.iterate()) addInto(table, id, { startId, inForceId, workloadId, outcome, place, setAside })
    return { head: now, table }
  }

  return () => {
    // Head and rows from one look at the database: another process may write in between.
    db.transaction(() => {
      const now = head()
      if (kept?.head === now) return
      const items = kept === undefined || kept.head > now ? null : since.all(kept.head, now, MOST_ONE_BY_ONE)
      if (kept === undefined || items === null || items.length === MOST_ONE_BY_ONE) {
        kept = readAll(now)
        return
      }
      for (const { before, after } of items) {
        const old = before === null ? undefined : parseBody(before)
        const own = after === null ? undefined : parseBody(after)
        if (old?.kind === 'run') removeFrom(kept.table, old.id)
        if (own?.kind === 'run') {
          const { startId, inForceId, workloadId, outcome, place = null, setAside } = own
          addInto(kept.table, own.id, { startId, inForceId, workloadId, outcome, place, setAside: setAside?.reason ?? null })
        }
      }
      kept.head = now
    })()
    return kept?.table ?? readAll(head()).table
  }
}

interface Building {
  readonly ids: string[]
  readonly groupOf: number[]
  readonly groups: RunGroup[]
  readonly counts: number[]
  /** Group by all that its runs agree in. */
  readonly places: Map<string, number>
}

/** More at once are read anew, all of them. */
const MOST_ONE_BY_ONE = 2000

function addInto(table: Building, id: string, group: RunGroup): void {
  const { startId, inForceId, workloadId, outcome, place, setAside } = group
  const plain = `${startId}${inForceId}${workloadId}${outcome}`
  const key = place === null && setAside === null ? plain : JSON.stringify([plain, place, setAside])
  let number = table.places.get(key)
  if (number === undefined) {
    number = table.groups.length
    table.places.set(key, number)
    table.groups.push(group)
    table.counts.push(0)
  }
  table.counts[number] += 1
  const at = placeOf(table.ids, id)
  if (at === table.ids.length) {
    table.ids.push(id)
    table.groupOf.push(number)
  } else {
    table.ids.splice(at, 0, id)
    table.groupOf.splice(at, 0, number)
  }
}

function removeFrom(table: Building, id: string): void {
  const at = placeOf(table.ids, id)
  if (table.ids[at] !== id) return
  table.counts[table.groupOf[at]] -= 1
  table.ids.splice(at, 1)
  table.groupOf.splice(at, 1)
}

/** Where the id stands, or would stand. */
function placeOf(ids: readonly string[], id: string): number {
  if (ids.length === 0 || ids[ids.length - 1] < id) return ids.length
  let low = 0
  let high = ids.length - 1
  while (low < high) {
    const middle = (low + high) >> 1
    if (ids[middle] < id) low = middle + 1
    else high = middle
  }
  return low
}
