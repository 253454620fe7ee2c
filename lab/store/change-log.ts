// The one door for writes: a change with its items, checked against what is stored, written in one synced transaction; undo is a new change.
import { canonicalJson, contentDigest, recordSchema, LONGEST_WHAT, SpokenError, type Change, type ChangeItem, type LabRecord } from '@guardband/model'
import type { NewChange } from '../lab.ts'
import type { LabDatabase } from './database.ts'
import { describeRecord, type Look } from './describe.ts'
import { createGuards } from './guards.ts'
import { parseBody, type RecordStore } from './record-store.ts'
import { requireReferences, requireUnreferenced } from './references.ts'

export interface ChangeLog {
  /** Sequence of the last change, 0 when there is none. */
  readonly head: () => number
  /** Checks and writes inside a transaction that the caller holds. Returns the sequence number. */
  readonly write: (change: NewChange & { readonly undoes?: number; readonly onProgress?: (done: number) => void }) => number
  readonly undo: (seq: number, by: { readonly who: string; readonly why: string }) => number
  /** Takes back the change made under this request; when that was done already, the number of the change that did it. */
  readonly takeBack: (request: string, by: { readonly who: string; readonly why: string }) => number
  readonly page: (page: { readonly before?: number; readonly count: number }) => readonly Change[]
  readonly one: (seq: number) => Change | undefined
  readonly items: (seq: number) => readonly ChangeItem[]
  /** False when a later change, itself standing, took this one back. */
  readonly stands: (seq: number) => boolean
}

export function createChangeLog(db: LabDatabase, store: RecordStore, now: () => number): ChangeLog {
  const headRow = db.prepare<[], { seq: number | null }>('SELECT max(seq) AS seq FROM change')
  const addChange = db.prepare('INSERT INTO change (seq, at, who, what, why, undoes, request, sent) VALUES (?, ?, ?, ?, ?, ?, ?, ?)')
  const addItem = db.prepare('INSERT INTO change_item (seq, place, id, kind, before, after) VALUES (?, ?, ?, ?, ?, ?)')
  /** What was just added, from the rows that it stands in: its text need not come through here again. */
  const addAdded = db.prepare('INSERT INTO change_item (seq, place, id, kind, before, after) SELECT ?, rowid + ?, id, kind, NULL, body FROM record WHERE rowid BETWEEN ? AND ? ORDER BY rowid')
  const changeRow = db.prepare<[number], ChangeRow>(`${SELECT_CHANGE} WHERE seq = ?`)
  const pageRows = db.prepare<[number, number], ChangeRow>(`${SELECT_CHANGE} WHERE seq < ? ORDER BY seq DESC LIMIT ?`)
  const itemRows = db.prepare<[number], { before: string | null; after: string | null }>('SELECT before, after FROM change_item WHERE seq = ? ORDER BY place')
  const byRequest = db.prepare<[string], { seq: number; sent: string }>('SELECT seq, sent FROM change WHERE request = ?')
  const later = db.prepare<[number, number], { seq: number; id: string }>(
    'SELECT DISTINCT l.seq AS seq, l.id AS id FROM change_item own JOIN change_item l ON l.id = own.id AND l.seq > own.seq WHERE own.seq = ? AND l.seq > ? ORDER BY l.seq',
  )

  const guards = createGuards(db, store, now)

  const head = (): number => headRow.get()?.seq ?? 0
  const items = (seq: number): readonly ChangeItem[] =>
    itemRows.all(seq).map(({ before, after }) => ({ before: before === null ? null : parseBody(before), after: after === null ? null : parseBody(after) }))

  const write: ChangeLog['write'] = (change) => {
    const { parsed, byId } = checkItems(change.items, store.get)
    const sent = change.request === undefined ? null : contentDigest(parsed)
    const made = change.request === undefined ? undefined : byRequest.get(change.request)
    if (made !== undefined) {
      requireSame(sent, made)
      requireStanding(made.seq, standing().takenBackBy.get(made.seq))
      return made.seq
    }
    const seq = head() + 1
    for (const { before, after } of parsed) if (before !== null) requireStored(before, after, store)
    const tell = paced(change.onProgress, 2 * parsed.length)
    const rows = putItems(parsed, { seq, store, tell })
    const view = rememberingStore(store, byId)
    for (const { after } of parsed) if (after !== null) requireReferences(after, view)
    requireUnreferenced(parsed.flatMap(({ before, after }) => (after === null && before !== null ? [before] : [])), db, store)
    const added = guards.look({ items: parsed, why: change.why, told: change.undoes === undefined ? (change.told ?? 'by hand') : 'restored', undoes: change.undoes })
    const names = added.map((sample) => describeRecord(sample, store.get))
    const whole = withAdded(parsed, added, store.get)
    for (const sample of added) store.put(sample, seq)
    addChange.run(seq, new Date(now()).toISOString(), change.who, whatText(change.what, names), change.why ?? null, change.undoes ?? null, change.request ?? null, sent)
    const addOne = ({ before, after }: ChangeItem, place: number): void => {
      const record = after ?? before ?? neither()
      addItem.run(seq, place, record.id, record.kind, text(before), text(after))
      tell(1)
    }
    let place = 0
    for (const { from, count, firstRow } of rows) {
      for (; place < from; place++) addOne(whole[place], place)
      addAdded.run(seq, from - firstRow, firstRow, firstRow + count - 1)
      place += count
      tell(count)
    }
    for (; place < whole.length; place++) addOne(whole[place], place)
    return seq
  }

  const standing = (): StandingChanges => readStanding(db)

  const undo: ChangeLog['undo'] = (seq, by) => {
    const change = changeRow.get(seq)
    if (change === undefined) throw new SpokenError({ code: 'no-change', message: `there is no change ${seq}.`, mend: `The last one is ${head()}.` })
    const { takenBackBy, spent } = standing()
    const undoer = takenBackBy.get(seq)
    if (undoer !== undefined) {
      throw new SpokenError({ code: 'undone-already', place: `change ${seq}`, message: `it was taken back already, by change ${undoer}.`, mend: `Take back change ${undoer} to bring it in force again.` })
    }
    const inTheWay = later.all(seq, seq).filter((row) => !takenBackBy.has(row.seq) && !spent.has(row.seq))
    if (inTheWay.length > 0) throw laterChanges(seq, inTheWay, store)
    return write({
      who: by.who,
      what: `Took back change ${seq}: ${change.what}`.slice(0, LONGEST_WHAT),
      ...(by.why === '' ? {} : { why: by.why }),
      undoes: seq,
      items: items(seq)
        .toReversed()
        .map(({ before, after }) => ({ before: after, after: before })),
    })
  }

  return {
    head,
    write,
    undo,
    takeBack: (request, by) => {
      const made = byRequest.get(request)
      if (made === undefined) throw new SpokenError({ code: 'no-change', message: `no change was made under the request ${request}.`, mend: 'Look in the change log.' })
      return standing().takenBackBy.get(made.seq) ?? undo(made.seq, by)
    },
    page: ({ before, count }) => {
      const { takenBackBy } = standing()
      return pageRows.all(before ?? Number.MAX_SAFE_INTEGER, count).map((row) => toChange(row, takenBackBy))
    },
    one: (seq) => {
      const row = changeRow.get(seq)
      return row === undefined ? undefined : toChange(row, standing().takenBackBy)
    },
    items,
    stands: (seq) => !standing().takenBackBy.has(seq),
  }
}

/** Tells how far a long change is, not at every record. */
function paced(onProgress: ((done: number) => void) | undefined, all: number): (records: number) => void {
  if (onProgress === undefined) return () => undefined
  let count = 0
  let told = -Infinity
  return (records) => {
    if (count - told >= RECORDS_A_STEP) {
      told = count
      onProgress(count / all)
    }
    count += records
  }
}

const RECORDS_A_STEP = 1000

/** Items that add records, one after the other, in rows of the table that follow each other too. */
interface AddedRows {
  /** Place of the first among the items. */
  readonly from: number
  readonly count: number
  readonly firstRow: number
}

function putItems(items: readonly ChangeItem[], { seq, store, tell }: { readonly seq: number; readonly store: RecordStore; readonly tell: (records: number) => void }): readonly AddedRows[] {
  const rows: AddedRows[] = []
  let batch: LabRecord[] = []
  const flush = (until: number): void => {
    if (batch.length === 0) return
    rows.push({ from: until - batch.length, count: batch.length, firstRow: addNew(batch, seq, store) })
    tell(batch.length)
    batch = []
  }
  items.forEach(({ before, after }, place) => {
    if (before === null && after !== null) {
      if (batch.length === ADDED_AT_ONCE) flush(place)
      batch.push(after)
      return
    }
    flush(place)
    if (after === null) store.remove((before ?? neither()).id)
    else store.put(after, seq)
    tell(1)
  })
  flush(items.length)
  return rows
}

/** More rows a statement gain nothing further. */
const ADDED_AT_ONCE = 100

/** The store as it stands once these items are written; what else is asked for is read once. */
function rememberingStore(store: RecordStore, written: ReadonlyMap<string, LabRecord | undefined>): RecordStore {
  const read = new Map<string, LabRecord | undefined>()
  const get = (id: string): LabRecord | undefined => {
    const found = written.get(id) ?? read.get(id)
    if (found !== undefined || written.has(id) || read.has(id)) return found
    const stored = store.get(id)
    read.set(id, stored)
    return stored
  }
  return { ...store, get, kindOf: (id) => get(id)?.kind }
}

interface ChangeRow {
  readonly seq: number
  readonly at: string
  readonly who: string
  readonly what: string
  readonly why: string | null
  readonly undoes: number | null
  readonly items: number
}

interface StandingChanges {
  /** Changes that a standing undo took back, with that undo's number. */
  readonly takenBackBy: ReadonlyMap<number, number>
  /** Those undos: with the change they took back they cancel out, so they stand in nobody's way. */
  readonly spent: ReadonlySet<number>
}

const SELECT_CHANGE = 'SELECT seq, at, who, what, why, undoes, (SELECT count(*) FROM change_item WHERE change_item.seq = change.seq) AS items FROM change'

function toChange(row: ChangeRow, takenBackBy: ReadonlyMap<number, number>): Change {
  const { why, undoes, ...rest } = row
  const undoneBy = takenBackBy.get(row.seq)
  return { ...rest, ...(why === null ? {} : { why }), ...(undoes === null ? {} : { undoes }), ...(undoneBy === undefined ? {} : { undoneBy }) }
}

/** One request, one change: another one under its id is a mistake of the sender, not a repetition. What was sent is compared, since a change may hold more than that. */
function requireSame(sent: string | null, made: { readonly seq: number; readonly sent: string }): void {
  if (sent === made.sent) return
  throw new SpokenError({ code: 'request-reused', place: `change ${made.seq}`, message: 'it was made under the same request, but it is another change.', mend: 'Send it under an id of its own.' })
}

/** A repetition must not hear that its change stands when somebody took it back, nor bring it back behind that person's back. */
function requireStanding(seq: number, undoer: number | undefined): void {
  if (undoer === undefined) return
  throw new SpokenError({
    code: 'request-taken-back',
    place: `change ${seq}`,
    message: `it was made under this request and taken back since, by change ${undoer}.`,
    mend: `Take back change ${undoer}, or make the change anew.`,
  })
}

/** What the guards add takes the place of what was sent of the same record, else it stands at the end. */
function withAdded(items: readonly ChangeItem[], added: readonly LabRecord[], look: Look): readonly ChangeItem[] {
  if (added.length === 0) return items
  const byId = new Map(added.map((record) => [record.id, record]))
  const merged = items.map(({ before, after }) => {
    const more = after === null ? undefined : byId.get(after.id)
    if (more === undefined) return { before, after }
    byId.delete(more.id)
    return { before, after: more }
  })
  return [...merged, ...[...byId.values()].map((after) => ({ before: look(after.id) ?? null, after }))]
}

function whatText(what: string, quarantined: readonly string[]): string {
  if (quarantined.length === 0) return what
  const more = ` (quarantined ${quarantined.slice(0, NAMES_SHOWN).join(', ')}${quarantined.length > NAMES_SHOWN ? ` and ${quarantined.length - NAMES_SHOWN} more` : ''})`
  return `${what.slice(0, Math.max(1, LONGEST_WHAT - more.length))}${more}`.slice(0, LONGEST_WHAT)
}

function text(record: LabRecord | null): string | null {
  return record === null ? null : canonicalJson(record)
}

function neither(): never {
  throw new SpokenError({ code: 'empty-item', message: 'a change item must have a record before or after; got neither.' })
}

interface CheckedItems {
  readonly parsed: readonly ChangeItem[]
  /** What each record will be; undefined where it is taken out. */
  readonly byId: ReadonlyMap<string, LabRecord | undefined>
}

function checkItems(items: readonly ChangeItem[], look: Look): CheckedItems {
  if (items.length === 0) throw new SpokenError({ code: 'empty-change', message: 'a change must hold at least one record; got none.' })
  const byId = new Map<string, LabRecord | undefined>()
  const parsed = items.map(({ before, after }) => {
    const item = { before: before === null ? null : checkRecord(before), after: after === null ? null : checkRecord(after) }
    const record = item.after ?? item.before ?? neither()
    if (item.before !== null && (item.before.id !== record.id || item.before.kind !== record.kind)) {
      throw new SpokenError({ code: 'other-record', place: describeRecord(item.before, look), message: `before and after must be one record; got ${describeRecord(record, look)} after it.` })
    }
    if (byId.has(record.id)) throw new SpokenError({ code: 'record-twice', place: describeRecord(record, look), message: 'a change must hold each record once; got it twice.' })
    byId.set(record.id, item.after ?? undefined)
    return item
  })
  return { parsed, byId }
}

function checkRecord(record: LabRecord): LabRecord {
  const parsed = recordSchema.safeParse(record)
  if (parsed.success) return parsed.data
  const issue = parsed.error.issues[0]
  const where = issue === undefined || issue.path.length === 0 ? '' : `, ${issue.path.join('.')}`
  throw new SpokenError({ code: 'bad-record', place: `${record.kind} ${record.id}${where}`, message: issue?.message ?? 'not a sound record' })
}

/** What is there already can't be added: the table's own key says so, in one look instead of two. */
function addNew(records: readonly LabRecord[], seq: number, store: RecordStore): number {
  try {
    return store.add(records, seq)
  } catch (error) {
    for (const record of records) requireStored(null, record, store)
    throw error
  }
}

function requireStored(before: LabRecord | null, after: LabRecord | null, store: RecordStore): void {
  const record = before ?? after ?? neither()
  const body = store.body(record.id)
  if (before === null && body === undefined) return
  if (before !== null && body !== undefined) {
    const wanted = canonicalJson(before)
    if (body === wanted || canonicalJson(recordSchema.parse(parseBody(body))) === wanted) return
  }
  throw new SpokenError({
    code: 'changed-meanwhile',
    place: describeRecord(record, store.get),
    message: body === undefined ? 'it is not in the workspace any more.' : before === null ? 'it is in the workspace already.' : 'it has changed since it was read.',
    mend: 'Load it again and repeat the change.',
  })
}

function laterChanges(seq: number, rows: readonly { readonly seq: number; readonly id: string }[], store: RecordStore): SpokenError {
  const changes = [...new Set(rows.map((row) => row.seq))]
  const names = [...new Set(rows.map((row) => row.id))].map((id) => {
    const record = store.get(id)
    return record === undefined ? id : describeRecord(record, store.get)
  })
  const shown = names.slice(0, NAMES_SHOWN).join(', ') + (names.length > NAMES_SHOWN ? ` and ${names.length - NAMES_SHOWN} more` : '')
  return new SpokenError({
    code: 'touched-later',
    place: `change ${seq}`,
    message: `it can't be taken back, since ${changes.length === 1 ? 'change' : 'changes'} ${changes.slice(0, NAMES_SHOWN).join(', ')}${changes.length > NAMES_SHOWN ? ' and later ones' : ''} touched ${shown} after it.`,
    mend: 'Take back the later ones first.',
  })
}

const NAMES_SHOWN = 3

/** Newest first: an undo that stands takes its change back; an undo that was itself taken back does nothing. */
function readStanding(db: LabDatabase): StandingChanges {
  const takenBackBy = new Map<number, number>()
  for (const { seq, undoes } of db.prepare<[], { seq: number; undoes: number }>('SELECT seq, undoes FROM change WHERE undoes IS NOT NULL ORDER BY seq DESC').all()) {
    if (!takenBackBy.has(seq)) takenBackBy.set(undoes, seq)
  }
  return { takenBackBy, spent: new Set(takenBackBy.values()) }
}
