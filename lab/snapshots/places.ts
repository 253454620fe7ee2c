// In what order a rig's starts came: by time where clocks can be trusted, along the chain of journals where one stepped back.
//
// A firmware reset sets the clock of a machine under test to another year. Journals name the one before, so their order stands whatever the clock said
// (JOURNAL.md, rule 10). Where a later journal carries an earlier time, the rig's times are given up: starts then stand in order, without a time.
import type { LabCore } from '../lab-core.ts'
import type { Stretch } from './sides.ts'

export interface Places {
  /** Place of each in-force record among all of its rig. */
  readonly of: ReadonlyMap<string, number>
  /** Rigs whose clock stepped back between two journals: their times tell nothing. */
  readonly clockless: ReadonlySet<string>
}

export function placesOnRig({ db }: Pick<LabCore, 'db'>, stretches: readonly Stretch[]): Places {
  const previous = new Map(db.prepare<[], { id: string; previous: string | null }>('SELECT id, previous FROM journal').all().map((row) => [row.id, row.previous]))
  const of = new Map<string, number>()
  const clockless = new Set<string>()
  for (const [rig, onRig] of Map.groupBy(stretches, ({ start }) => start.rigId)) {
    const reckoned = alongChains(onRig, previous)
    if (reckoned.stepped) clockless.add(rig)
    const sorted = onRig.toSorted(
      (a, b) => reckoned.time(a) - reckoned.time(b) || (a.start.order ?? 0) - (b.start.order ?? 0) || compareText(a.start.id, b.start.id) || a.place - b.place,
    )
    sorted.forEach(({ inForce }, place) => of.set(inForce.id, place))
  }
  return { of, clockless }
}

interface Reckoned {
  readonly stepped: boolean
  /** The start's own time, or that of the latest journal before it in its chain where that is later. */
  readonly time: (stretch: Stretch) => number
}

function alongChains(onRig: readonly Stretch[], previous: ReadonlyMap<string, string | null>): Reckoned {
  const bySource = new Map(onRig.flatMap(({ start }) => (start.source !== undefined && previous.has(start.source) ? [[start.source, momentOf(start.at)] as const] : [])))
  const latest = new Map<string, number>()
  let stepped = false
  for (const source of bySource.keys()) {
    // The journals from here back to one already reckoned, then forward again: no recursion, since a chain may be thousands long.
    const way = new Set<string>()
    let at: string | null | undefined = source
    while (at !== null && at !== undefined && !latest.has(at) && !way.has(at)) {
      way.add(at)
      at = previous.get(at)
    }
    let before = at === null || at === undefined ? Number.NEGATIVE_INFINITY : (latest.get(at) ?? Number.NEGATIVE_INFINITY)
    for (const journal of [...way].toReversed()) {
      const own = bySource.get(journal)
      if (own !== undefined && own < before) stepped = true
      before = Math.max(before, own ?? before)
      latest.set(journal, before)
    }
  }
  return { stepped, time: ({ start }) => (start.source === undefined ? momentOf(start.at) : (latest.get(start.source) ?? momentOf(start.at))) }
}

export function momentOf(at: string | undefined): number {
  return at === undefined ? 0 : Date.parse(at)
}

export function compareText(a: string, b: string): number {
  return a < b ? -1 : a > b ? 1 : 0
}
