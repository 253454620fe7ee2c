// Finds runs by words, by how they ended, and by what they belong to. SQL looks only at an index that holds all it asks of a run, never at bodies.
import { COMPARABLE_OUTCOMES, NEUTRAL_OUTCOMES, outcomeSchema, type RunsWanted, type WantedOutcome } from '@guardband/model'
import type { LabDatabase } from './database.ts'
import { sampleText } from './describe.ts'
import type { RecordStore } from './record-store.ts'
import { startName } from './start-name.ts'

export interface FoundRuns {
  /** One page, newest first. */
  readonly ids: readonly string[]
  readonly total: number
}

/** `startTexts` gives what people may search for in a start; the caller keeps it until the lab changes. */
export function findRuns(db: LabDatabase, store: RecordStore, startTexts: () => StartTexts, wanted: RunsWanted): FoundRuns {
  const parts = [
    ...(wanted.outcome === undefined ? [] : [outcomePart(wanted.outcome)]),
    ...(wanted.ids === undefined ? [] : [belongingPart(wanted.ids, startTexts())]),
    ...(wanted.workloadId === undefined ? [] : [{ sql: 'workload_id = ?', values: [wanted.workloadId] }]),
    ...(wanted.tuneId === undefined ? [] : [{ sql: `in_force_id IN (SELECT id FROM record WHERE tune_id = ? AND kind = 'in force')`, values: [wanted.tuneId] }]),
    ...(wanted.sampleId === undefined && wanted.since === undefined && wanted.until === undefined ? [] : [startPart(wanted, startTexts())]),
    ...wordsOf(wanted.find).map((word) => wordPart(word, store, startTexts())),
  ]
  const where = whereOf(parts)
  const values = parts.flatMap((part) => part.values)
  const total = countOf(db, parts)
  const page = db.prepare<(string | number)[], string>(`SELECT id FROM record INDEXED BY run_list WHERE ${where} ORDER BY id DESC LIMIT ? OFFSET ?`).pluck()
  return { ids: page.all(...values, wanted.count, wanted.from), total }
}

/** How many runs hold all of these words, as `findRuns` finds them. */
export function countRuns(db: LabDatabase, store: RecordStore, startTexts: () => StartTexts, find: string): number {
  return countOf(db, wordsOf(find).map((word) => wordPart(word, store, startTexts())))
}

function countOf(db: LabDatabase, parts: readonly Part[]): number {
  return db.prepare<string[], number>(`SELECT count(*) FROM record INDEXED BY run_list WHERE ${whereOf(parts)}`).pluck().get(...parts.flatMap((part) => part.values)) ?? 0
}

function whereOf(parts: readonly Part[]): string {
  return ['kind = \'run\'', ...parts.map((part) => part.sql)].join(' AND ')
}

/** By start: the words that people may look for in it, in lower case, and the samples in it. */
export type StartTexts = ReadonlyMap<string, { readonly text: string; readonly sampleIds: readonly string[]; readonly at: string | undefined }>

export function readStartTexts(store: RecordStore): StartTexts {
  const names = new Map([...store.list('part'), ...store.list('tune'), ...store.list('rig')].map((record) => [record.id, record.name]))
  const samples = new Map(store.list('sample').map((sample) => [sample.id, sampleText(names.get(sample.partId) ?? '', sample.label)]))
  const seats = new Map(
    store.list('assembly').map(({ id, slots }) => {
      const sampleIds = slots.map(({ sampleId }) => sampleId)
      const shown = slots.find(({ slot }) => slot === 'processor') ?? slots[0]
      return [id, { sampleIds, sample: samples.get(shown?.sampleId ?? '') ?? '' }] as const
    }),
  )
  return new Map(
    store.list('start').map((start) => {
      const seat = seats.get(start.assemblyId)
      const asked = start.tuneId === undefined ? null : (names.get(start.tuneId) ?? null)
      const text = [startName(start, asked), names.get(start.rigId), seat?.sample, asked].join('\n')
      return [start.id, { text: lower(text), sampleIds: seat?.sampleIds ?? [], at: start.at }] as const
    }),
  )
}

/** Makes the lower case of the program known to SQL, whose own knows only ASCII. */
export function teachLowerCase(db: LabDatabase): void {
  db.function('lower_text', { deterministic: true }, (text: unknown) => (typeof text === 'string' ? lower(text) : null))
}

interface Part {
  readonly sql: string
  readonly values: readonly string[]
}

const UNFAILED = [...COMPARABLE_OUTCOMES, ...NEUTRAL_OUTCOMES]
const IN_LIST = '(SELECT value FROM json_each(?))'
/** Each costs a look at every run; nobody needs more to tell runs apart. */
const MOST_WORDS = 10

function outcomePart(outcome: WantedOutcome): Part {
  if (outcome === 'set aside') return { sql: 'set_aside IS NOT NULL', values: [] }
  if (outcome === 'failed') return { sql: `outcome NOT IN ${IN_LIST}`, values: [JSON.stringify(UNFAILED)] }
  return { sql: 'outcome = ?', values: [outcome] }
}

/** Runs by their own ids, and all runs of a start, of a stretch of what was in force, or of a sample. */
function belongingPart(ids: readonly string[], starts: StartTexts): Part {
  const wanted = new Set(ids)
  const startIds = [...starts].flatMap(([id, { sampleIds }]) => (wanted.has(id) || sampleIds.some((sampleId) => wanted.has(sampleId)) ? [id] : []))
  return { sql: `(id IN ${IN_LIST} OR in_force_id IN ${IN_LIST} OR start_id IN ${IN_LIST})`, values: [JSON.stringify(ids), JSON.stringify(ids), JSON.stringify(startIds)] }
}

/** Runs of the starts in which a sample sat, or of those on some days. */
function startPart({ sampleId, since, until }: RunsWanted, starts: StartTexts): Part {
  const from = since === undefined ? Number.NEGATIVE_INFINITY : Date.parse(`${since}T00:00:00Z`)
  const before = until === undefined ? Number.POSITIVE_INFINITY : Date.parse(`${until}T00:00:00Z`) + DAY_MS
  const onDays = (at: string | undefined): boolean => (since === undefined && until === undefined) || (at !== undefined && Date.parse(at) >= from && Date.parse(at) < before)
  const startIds = [...starts].flatMap(([id, { sampleIds, at }]) => ((sampleId === undefined || sampleIds.includes(sampleId)) && onDays(at) ? [id] : []))
  return { sql: `start_id IN ${IN_LIST}`, values: [JSON.stringify(startIds)] }
}

const DAY_MS = 24 * 3600 * 1000

/** The word stands somewhere in what the list shows of a run. */
function wordPart(word: string, store: RecordStore, starts: StartTexts): Part {
  const named = (records: readonly { readonly id: string; readonly name: string }[]): string => JSON.stringify(records.flatMap(({ id, name }) => (lower(name).includes(word) ? [id] : [])))
  const startIds = [...starts].flatMap(([id, { text }]) => (text.includes(word) ? [id] : []))
  const outcomes = outcomeSchema.options.filter((outcome) => outcome.includes(word))
  return {
    sql: `(workload_id IN ${IN_LIST} OR start_id IN ${IN_LIST} OR in_force_id IN (SELECT id FROM record WHERE tune_id IN ${IN_LIST} AND kind = 'in force') OR outcome IN ${IN_LIST}
      OR instr(lower_text(place), ?) > 0 OR instr(lower_text(set_aside), ?) > 0)`,
    values: [named(store.list('workload')), JSON.stringify(startIds), named(store.list('tune')), JSON.stringify(outcomes), word, word],
  }
}

/** The words of a search, in lower case. */
export function wordsOf(find: string | undefined): readonly string[] {
  return lower(find ?? '').split(/\s+/).filter((word) => word !== '').slice(0, MOST_WORDS)
}

export function lower(text: string): string {
  return text.toLowerCase()
}
