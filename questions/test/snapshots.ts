// Small Gain snapshots of the invented lab (simulated) for tests: a clean one that raises no caution, and what is needed to change it in one place.
import { readFileSync } from 'node:fs'
import { comparisonOf, snapshotSchema, type GainSnapshot, type GainStart, type GainWorkload, type Outcome } from '@guardband/model'

export interface PlannedStart {
  readonly side: 0 | 1
  readonly sample: number
  /** Hours since the first start; half an hour a start where absent. */
  readonly hour?: number
}

export interface PlannedRun {
  readonly start: number
  readonly workload: number
  readonly value: number | null
  readonly outcome?: Outcome
  readonly setAside?: string
  readonly seconds?: number | null
}

export interface SnapshotPlan {
  readonly starts: readonly PlannedStart[]
  readonly workloads: readonly Partial<GainWorkload>[]
  readonly runs: readonly PlannedRun[]
}

export const FIRST_START = Date.UTC(2026, 10, 2, 7, 0)
const HOUR = 3_600_000

/** A snapshot with everything recorded and alike on both sides. */
export function snapshotOf(plan: SnapshotPlan, changes: Partial<GainSnapshot> = {}): GainSnapshot {
  const sampleCount = Math.max(-1, ...plan.starts.map((start) => start.sample)) + 1
  const placeInStart = new Map<number, number>()
  return {
    schema: 1,
    kind: 'gain',
    question: { id: 'question-1', title: 'Quillon 14 at 95 W against 80 W' },
    lab: { name: 'Hollin & Pike', currency: 'EUR', simulated: true },
    slot: 'processor',
    sides: [{ label: '80 W', tune: '80 W' }, { label: '95 W', tune: '95 W' }],
    samples: Array.from({ length: sampleCount }, (_, index) => ({ id: `sample-${index}`, label: `no. ${index + 1}`, part: 'Quillon 14', origin: 'retail', picked: 'at random', status: 'bench' })),
    starts: plan.starts.map((start, index) => plannedStart(start, index)),
    workloads: plan.workloads.map((workload, index) => ({
      id: `w${index + 1}`, label: `workload ${index + 1}`, measure: 'score', unit: 'points', compares: comparisonOf(workload.unit ?? 'points'), direction: 'higher is better', weight: 1, ...workload,
    })),
    runs: {
      id: plan.runs.map((_, index) => `run-${index}`),
      start: plan.runs.map((run) => run.start),
      workload: plan.runs.map((run) => run.workload),
      order: plan.runs.map(({ start }) => {
        const place = placeInStart.get(start) ?? 0
        placeInStart.set(start, place + 1)
        return place
      }),
      outcome: plan.runs.map((run) => run.outcome ?? 'scored'),
      value: plan.runs.map((run) => run.value),
      seconds: plan.runs.map((run) => (run.seconds === undefined ? 60 : run.seconds)),
      setAside: plan.runs.map((run) => run.setAside ?? null),
    },
    failedStarts: [],
    smallestGain: { percent: 1, fixedAt: '2026-11-01T08:00:00Z' },
    costs: { start: { hand: 2, machine: 3, from: 'log' }, tuneChange: { hand: 1, machine: 2, from: 'log' }, sampleChange: { hand: 20, machine: 5, from: 'log' } },
    ...changes,
  }
}

function plannedStart({ side, sample, hour }: PlannedStart, index: number): GainStart {
  return {
    id: `start-${String(index).padStart(3, '0')}`, side, sample, rig: 'north bench', order: index, how: 'cold', known: 'read back',
    partners: { board: `Cairn M2 no. ${(Math.floor(index / 2) % 2) + 1}`, memory: `Marram 5600 no. ${(Math.floor(index / 2) % 2) + 1}` },
    at: new Date(FIRST_START + (hour ?? index / 2) * HOUR).toISOString(),
    training: { result: 'full', tries: 1 },
    conditions: { firmware: 'fw 1', systemImage: 'image 1', drivers: 'drivers 1', cooling: 'Burrow 120', powerPlan: 'fixed', ambient: 22 },
  }
}

/** Both sides in turn (A B, B A, ...) on each of `samples` samples. */
export function inTurns(samples: number, rounds: number): readonly PlannedStart[] {
  return Array.from({ length: rounds }, (_, round) =>
    Array.from({ length: samples }, (_unused, sample) => (round % 2 === 0 ? ([0, 1] as const) : ([1, 0] as const)).map((side) => ({ side, sample }))).flat(),
  ).flat()
}

/** Numbers in (-1, 1) that look random and are the same every time. */
export function wobble(seed: number): () => number {
  let state = (seed * 2654435761) >>> 0
  return () => {
    state = (Math.imul(state ^ (state >>> 15), 0x2c1b3c6d) + 0x9e3779b9) >>> 0
    const mixed = Math.imul(state ^ (state >>> 13), 0x297a2d39) >>> 0
    return (mixed / 2 ** 32) * 2 - 1
  }
}

/** Six samples, four rounds in turns, two workloads, B faster by `gain` (a natural log). Raises no caution. */
export function cleanLab(options: { readonly gain?: number; readonly scatter?: number; readonly changes?: Partial<GainSnapshot> } = {}): GainSnapshot {
  const { gain = 0.03, scatter = 0.002 } = options
  const random = wobble(8)
  const starts = inTurns(6, 4)
  const runs = starts.flatMap(({ side }, start) =>
    [0, 1].flatMap((workload) => {
      const level = 100 * Math.exp(side * gain + scatter * random())
      return [0, 1].map((): PlannedRun => ({ start, workload, value: level * Math.exp((scatter / 4) * random()) }))
    }),
  )
  return snapshotOf({ starts, workloads: [{}, {}], runs }, options.changes)
}

/** The same snapshot with each start changed. */
export function withStarts(snapshot: GainSnapshot, change: (start: GainStart, index: number) => Partial<GainStart>): GainSnapshot {
  return { ...snapshot, starts: snapshot.starts.map((start, index) => ({ ...start, ...change(start, index) })) }
}

function other(side: 0 | 1): 0 | 1 {
  return side === 0 ? 1 : 0
}

/** Sides swapped: B becomes what is compared with. */
export function swapped(snapshot: GainSnapshot): GainSnapshot {
  return {
    ...snapshot,
    sides: [snapshot.sides[1], snapshot.sides[0]],
    starts: snapshot.starts.map((start) => ({ ...start, side: other(start.side) })),
    failedStarts: snapshot.failedStarts.map((start) => ({ ...start, side: other(start.side) })),
  }
}

export function checked(snapshot: GainSnapshot): GainSnapshot {
  return snapshotSchema.parse(snapshot)
}

export function reference(path: string): unknown {
  return JSON.parse(readFileSync(new URL(`../../reference/${path}`, import.meta.url), 'utf8'))
}

/** |got - want| / |want|, 0 when equal. */
export function relativeDifference(got: number | null, want: number): number {
  if (got === null) return Number.POSITIVE_INFINITY
  return got === want ? 0 : Math.abs(got - want) / Math.abs(want)
}
