// What change-overs cost: set by a person, else learned from the times between starts, else house defaults.
import type { ChangeOverRow, Cost, GainSnapshot, Start } from '@guardband/model'
import type { LabCore } from '../lab-core.ts'

type Costs = GainSnapshot['costs']
type ChangeOver = Costs['start']

/**
 * House defaults in minutes, estimates of bench work rather than measurements: a power-on with training to the desktop; the same after setting
 * another tune; taking a cooler off, swapping a processor and mounting again. They only serve until a person or the log says better.
 */
export const DEFAULT_COSTS: Costs = {
  start: { hand: 0, machine: 4, from: 'default' },
  tuneChange: { hand: 1, machine: 2, from: 'default' },
  sampleChange: { hand: 12, machine: 6, from: 'default' },
}

export function changeOverCosts(core: Pick<LabCore, 'db' | 'store'>): Costs {
  const set = new Map(core.store.list('cost').map((cost) => [cost.of, cost]))
  const wanted: readonly Cost['of'][] = ['start', 'tune change', 'sample change']
  const gaps = wanted.every((of) => set.has(of)) ? NO_GAPS : learnGaps(core)
  const pick = (of: 'start' | 'tune change' | 'sample change', fallback: ChangeOver): ChangeOver => {
    const cost = set.get(of)
    if (cost !== undefined) return { hand: cost.handMinutes, machine: cost.machineMinutes, from: 'person' }
    return learned(gaps[of], fallback) ?? fallback
  }
  return {
    start: pick('start', DEFAULT_COSTS.start),
    tuneChange: pick('tune change', DEFAULT_COSTS.tuneChange),
    sampleChange: pick('sample change', DEFAULT_COSTS.sampleChange),
  }
}

/** Every kind of change-over with where its figure comes from, and what the log says of it. */
export function changeOverRows(core: Pick<LabCore, 'db' | 'store'>): readonly ChangeOverRow[] {
  const set = new Map(core.store.list('cost').map((cost) => [cost.of, cost]))
  const inForce = changeOverCosts(core)
  const gaps = learnGaps(core)
  const used = [['start', inForce.start], ['tune change', inForce.tuneChange], ['sample change', inForce.sampleChange]] as const
  const remount = set.get('remount')
  return [
    ...used.map(([of, { hand, machine, from }]) => ({ of, hand, machine, from, cost: set.get(of) ?? null, gaps: { count: gaps[of].length, median: medianOf(gaps[of]) } })),
    {
      of: 'remount' as const,
      hand: remount?.handMinutes ?? null,
      machine: remount?.machineMinutes ?? null,
      from: remount === undefined ? ('not used' as const) : ('person' as const),
      cost: remount ?? null,
      gaps: { count: 0, median: null },
    },
  ]
}

interface Gaps {
  readonly start: readonly number[]
  readonly 'tune change': readonly number[]
  readonly 'sample change': readonly number[]
}

const NO_GAPS: Gaps = { start: [], 'tune change': [], 'sample change': [] }

/** The median of three leaves one odd gap out; a first plan of three starts a tune gives that many, and the default may be far off. */
const FEWEST_GAPS = 3

/** Minutes. A longer gap is a pause or a night, not a change-over. */
const LONGEST_GAP = 120

/** The bench's present habits, and a bound on the work. */
const STARTS_LOOKED_AT = 400

/** Half-minutes, so that one more start seldom changes what the log says. */
const ROUND_TO = 0.5

/** The log gives the sum; how it splits into hand and machine follows the default. */
function learned(minutes: readonly number[], fallback: ChangeOver): ChangeOver | null {
  const median = medianOf(minutes)
  if (median === null || minutes.length < FEWEST_GAPS) return null
  const share = fallback.hand / (fallback.hand + fallback.machine)
  const hand = roundMinutes(median * share)
  return { hand, machine: Math.max(0, roundMinutes(median) - hand), from: 'log' }
}

function medianOf(minutes: readonly number[]): number | null {
  if (minutes.length === 0) return null
  const sorted = minutes.toSorted((a, b) => a - b)
  const middle = sorted.length / 2
  return sorted.length % 2 === 1 ? sorted[Math.floor(middle)] : (sorted[middle - 1] + sorted[middle]) / 2
}

function roundMinutes(minutes: number): number {
  return Math.round(minutes / ROUND_TO) * ROUND_TO
}

/** Minutes from the end of one start's runs to the next start on the same rig, by what changed in between. Only where every time is known. */
function learnGaps({ db }: Pick<LabCore, 'db'>): Gaps {
  const rows = db
    .prepare<[number], { body: string }>(`SELECT body FROM record WHERE kind = 'start' AND json_extract(body, '$.at') IS NOT NULL ORDER BY id DESC LIMIT ?`)
    .all(STARTS_LOOKED_AT)
  const starts = rows.map(({ body }) => JSON.parse(body) as Start)
  const seconds = new Map(
    db
      .prepare<[string], { start: string; runs: number; timed: number; seconds: number | null }>(
        `SELECT start_id AS start, count(*) AS runs, count(json_extract(body, '$.exposure.seconds')) AS timed, sum(json_extract(body, '$.exposure.seconds')) AS seconds
         FROM record WHERE kind = 'run' AND start_id IN (SELECT value FROM json_each(?)) GROUP BY start_id`,
      )
      .all(JSON.stringify(starts.map(({ id }) => id)))
      .map((row) => [row.start, row.runs === row.timed ? (row.seconds ?? 0) : null]),
  )
  const gaps = { start: [] as number[], 'tune change': [] as number[], 'sample change': [] as number[] }
  for (const onRig of Map.groupBy(starts, (start) => start.rigId).values()) {
    const inOrder = onRig.toSorted((a, b) => Date.parse(a.at ?? '') - Date.parse(b.at ?? '') || (a.id < b.id ? -1 : 1))
    for (const [index, next] of inOrder.entries()) {
      const before = inOrder[index - 1]
      if (before === undefined) continue
      const ran = seconds.get(before.id)
      if (ran === undefined || ran === null) continue
      const minutes = (Date.parse(next.at ?? '') - Date.parse(before.at ?? '')) / 60_000 - ran / 60
      if (!(minutes > 0) || minutes > LONGEST_GAP) continue
      const what = next.assemblyId !== before.assemblyId ? 'sample change' : next.tuneId !== before.tuneId ? 'tune change' : 'start'
      gaps[what].push(minutes)
    }
  }
  return gaps
}
