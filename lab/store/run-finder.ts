// Finds runs by words, by how they ended, and by what they belong to: groups of like runs are looked at, never each run's body.
import { COMPARABLE_OUTCOMES, NEUTRAL_OUTCOMES, outcomeSchema, type RunsWanted, type Tune, type WantedOutcome, type Workload } from '@guardband/model'
import { sampleText } from './describe.ts'
import type { RecordStore } from './record-store.ts'
import type { RunGroup, RunTable } from './run-index.ts'
import { startName } from './start-name.ts'

export interface FoundRuns {
  /** One page, newest first. */
  readonly ids: readonly string[]
  readonly total: number
}

/** What a search looks at besides the runs; the caller keeps it until the lab changes. */
export interface RunSurroundings {
  readonly runs: () => RunTable
  readonly starts: () => StartTexts
  readonly named: () => readonly (Workload | Tune)[]
  /** Ids of what was in force with one of these tunes. */
  readonly inForceWith: (tuneIds: readonly string[]) => readonly string[]
}

export function findRuns(around: RunSurroundings, wanted: RunsWanted): FoundRuns {
  const { ids, groupOf, groups } = around.runs()
  const belongs = wanted.ids === undefined ? undefined : belonging(wanted.ids, around)
  const fits = groupTest(around, wanted)
  const held = groups.map((group) => fits(group))
  const whole = belongs === undefined ? undefined : groups.map((group) => belongs.group(group))
  const page: string[] = []
  let total = 0
  for (let at = ids.length - 1; at >= 0; at--) {
    const group = groupOf[at]
    if (!held[group] || (whole !== undefined && !whole[group] && belongs?.run(ids[at]) !== true)) continue
    if (total >= wanted.from && page.length < wanted.count) page.push(ids[at])
    total += 1
  }
  return { ids: page, total }
}

/** Whether only some runs are wanted. */
export function isSearch({ from: _from, count: _count, find, ...rest }: RunsWanted): boolean {
  return wordsOf(find).length > 0 || Object.values(rest).some((value) => value !== undefined)
}

/** How many runs hold all of these words, as `findRuns` finds them. */
export function countRuns(around: RunSurroundings, find: string): number {
  const { groups, counts } = around.runs()
  const fits = groupTest(around, { find })
  return groups.reduce((sum, group, place) => (counts[place] > 0 && fits(group) ? sum + counts[place] : sum), 0)
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

type Fits = (group: RunGroup) => boolean

const UNFAILED: ReadonlySet<string> = new Set([...COMPARABLE_OUTCOMES, ...NEUTRAL_OUTCOMES])
/** Nobody needs more to tell runs apart. */
const MOST_WORDS = 10
const DAY_MS = 24 * 3600 * 1000

function groupTest(around: RunSurroundings, wanted: Omit<RunsWanted, 'from' | 'count'>): Fits {
  const { outcome, workloadId, tuneId, sampleId, since, until, find } = wanted
  const tests: Fits[] = [
    ...(outcome === undefined ? [] : [outcomeTest(outcome)]),
    ...(workloadId === undefined ? [] : [(group: RunGroup) => group.workloadId === workloadId]),
    ...(tuneId === undefined ? [] : [inForceTest(around.inForceWith([tuneId]))]),
    ...(sampleId === undefined && since === undefined && until === undefined ? [] : [startTest(wanted, around.starts())]),
    ...wordsOf(find).map((word) => wordTest(word, around)),
  ]
  return (group) => tests.every((test) => test(group))
}

function outcomeTest(outcome: WantedOutcome): Fits {
  if (outcome === 'set aside') return ({ setAside }) => setAside !== null
  if (outcome === 'failed') return (group) => !UNFAILED.has(group.outcome)
  return (group) => group.outcome === outcome
}

function inForceTest(ids: readonly string[]): Fits {
  const wanted = new Set(ids)
  return ({ inForceId }) => wanted.has(inForceId)
}

/** Runs by their own ids, and all runs of a start, of a stretch of what was in force, or of a sample. */
function belonging(ids: readonly string[], { starts }: RunSurroundings): { readonly group: Fits; readonly run: (id: string) => boolean } {
  const wanted = new Set(ids)
  const startIds = new Set([...starts()].flatMap(([id, { sampleIds }]) => (wanted.has(id) || sampleIds.some((sampleId) => wanted.has(sampleId)) ? [id] : [])))
  return { group: ({ startId, inForceId }) => startIds.has(startId) || wanted.has(inForceId), run: (id) => wanted.has(id) }
}

/** Runs of the starts in which a sample sat, or of those on some days. */
function startTest({ sampleId, since, until }: Omit<RunsWanted, 'from' | 'count'>, starts: StartTexts): Fits {
  const from = since === undefined ? Number.NEGATIVE_INFINITY : Date.parse(`${since}T00:00:00Z`)
  const before = until === undefined ? Number.POSITIVE_INFINITY : Date.parse(`${until}T00:00:00Z`) + DAY_MS
  const onDays = (at: string | undefined): boolean => (since === undefined && until === undefined) || (at !== undefined && Date.parse(at) >= from && Date.parse(at) < before)
  const startIds = new Set([...starts].flatMap(([id, { sampleIds, at }]) => ((sampleId === undefined || sampleIds.includes(sampleId)) && onDays(at) ? [id] : [])))
  return ({ startId }) => startIds.has(startId)
}

/** The word stands somewhere in what the list shows of a run. */
function wordTest(word: string, { starts, named, inForceWith }: RunSurroundings): Fits {
  const hits = named().filter(({ name }) => lower(name).includes(word))
  const workloads = new Set(hits.flatMap(({ kind, id }) => (kind === 'workload' ? [id] : [])))
  const tunes = hits.flatMap(({ kind, id }) => (kind === 'tune' ? [id] : []))
  const inForce = new Set(tunes.length === 0 ? [] : inForceWith(tunes))
  const startIds = new Set([...starts()].flatMap(([id, { text }]) => (text.includes(word) ? [id] : [])))
  const outcomes = new Set<string>(outcomeSchema.options.filter((outcome) => outcome.includes(word)))
  return (group) =>
    workloads.has(group.workloadId) || startIds.has(group.startId) || inForce.has(group.inForceId) || outcomes.has(group.outcome) || (group.place !== null && lower(group.place).includes(word)) || (group.setAside !== null && lower(group.setAside).includes(word))
}

/** The words of a search, in lower case. */
export function wordsOf(find: string | undefined): readonly string[] {
  return lower(find ?? '').split(/\s+/).filter((word) => word !== '').slice(0, MOST_WORDS)
}

export function lower(text: string): string {
  return text.toLowerCase()
}
