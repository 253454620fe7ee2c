// Generated Gain snapshots for properties: same, different and mixed samples, unequal counts, holes, failures, runs set aside, drift, ties.
import * as fc from 'fast-check'
import type { GainSnapshot } from '@guardband/model'
import { snapshotOf, wobble, type PlannedRun, type PlannedStart } from './snapshots.ts'

export interface Recipe {
  readonly seed: number
  readonly samples: 'same' | 'different' | 'mixed'
  readonly counts: readonly [number, number]
  readonly mostStarts: number
  readonly workloads: readonly { readonly weight: number; readonly lower: boolean; readonly kind: 'ratio' | 'difference' }[]
  readonly holes: number
  readonly failed: number
  readonly setAside: number
  readonly drift: number
  readonly gain: number
  readonly order: 'in turns' | 'A before B'
  /** Scores rounded to this step, or not. */
  readonly step: number | null
}

export const recipes: fc.Arbitrary<Recipe> = fc.record({
  seed: fc.integer({ min: 1, max: 1_000_000 }),
  samples: fc.constantFrom('same', 'different', 'mixed'),
  counts: fc.tuple(fc.integer({ min: 1, max: 4 }), fc.integer({ min: 1, max: 4 })),
  mostStarts: fc.integer({ min: 1, max: 4 }),
  workloads: fc.array(fc.record({ weight: fc.constantFrom(1, 1, 2, 5), lower: fc.boolean(), kind: fc.constantFrom('ratio', 'ratio', 'ratio', 'difference') }), { minLength: 1, maxLength: 4 }),
  holes: fc.constantFrom(0, 0, 0.15, 0.4),
  failed: fc.constantFrom(0, 0, 0.1),
  setAside: fc.constantFrom(0, 0.1),
  drift: fc.constantFrom(0, 0, -0.005, 0.02),
  gain: fc.constantFrom(0, 0.004, -0.01, 0.03),
  order: fc.constantFrom('in turns', 'in turns', 'A before B'),
  step: fc.constantFrom(null, null, 1),
})

/** The first run of every sample, side and workload is always there and scored, so that an answer exists. */
export function build(recipe: Recipe, changes: Partial<GainSnapshot> = {}): GainSnapshot {
  const random = wobble(recipe.seed)
  const chance = (share: number) => (random() + 1) / 2 < share
  const starts = planStarts(recipe, random)
  const own = new Map<string, number>()
  const effect = (key: string, size: number) => {
    const known = own.get(key) ?? size * random()
    own.set(key, known)
    return known
  }
  const runs: PlannedRun[] = []
  const seen = new Set<string>()
  starts.forEach(({ side, sample }, start) => {
    const shift = 0.004 * random() + recipe.drift * start * 0.5 + side * recipe.gain + effect(`${side} ${sample}`, 0.006)
    recipe.workloads.forEach(({ lower, kind }, workload) => {
      const key = `${side} ${sample} ${workload}`
      const level = shift + 0.003 * random()
      const hole = chance(recipe.holes)
      const first = !seen.has(key)
      if (hole && !first) return
      seen.add(key)
      for (let repeat = 0; repeat < 2; repeat++) {
        const score = (level + 0.001 * random()) * (lower ? -1 : 1)
        const exact = kind === 'ratio' ? 200 * Math.exp(score) : 60 + 60 * score
        const value = recipe.step === null ? exact : Math.round(exact / recipe.step) * recipe.step
        const whole = first && repeat === 0
        if (!whole && chance(recipe.failed)) runs.push({ start, workload, value: null, outcome: 'program died', seconds: 20 })
        else runs.push({ start, workload, value, ...(!whole && chance(recipe.setAside) ? { setAside: 'window left open' } : {}) })
      }
    })
  })
  const workloads = recipe.workloads.map(({ weight, lower, kind }) => ({ weight, direction: lower ? ('lower is better' as const) : ('higher is better' as const), unit: kind === 'ratio' ? (lower ? 's' : 'points') : 'degC' }))
  return snapshotOf({ starts, workloads, runs }, changes)
}

function planStarts({ samples, counts, mostStarts, order }: Recipe, random: () => number): readonly PlannedStart[] {
  const bCount = samples === 'same' ? counts[0] : counts[1]
  const firstOfB = samples === 'same' ? 0 : samples === 'different' ? counts[0] : counts[0] - 1
  const planned: { start: PlannedStart; place: number }[] = []
  for (const side of [0, 1] as const) {
    for (let index = 0; index < (side === 0 ? counts[0] : bCount); index++) {
      const times = 1 + Math.floor(((random() + 1) / 2) * mostStarts)
      for (let time = 0; time < times; time++) planned.push({ start: { side, sample: index + side * firstOfB }, place: order === 'A before B' ? side * 100 + time : time * 2 + ((side + time) % 2) })
    }
  }
  return planned.sort((a, b) => a.place - b.place).map(({ start }) => start)
}

/** The same records in another order: runs, starts and samples shuffled, indices following. */
export function shuffled(snapshot: GainSnapshot, seed: number): GainSnapshot {
  const random = wobble(seed)
  const order = (count: number) => {
    const list = Array.from({ length: count }, (_, index) => ({ index, key: random() }))
    return list.sort((a, b) => a.key - b.key).map(({ index }) => index)
  }
  const [samples, starts, runs] = [order(snapshot.samples.length), order(snapshot.starts.length), order(snapshot.runs.id.length)]
  const [sampleAt, startAt] = [inverse(samples), inverse(starts)]
  const column = <Value>(values: readonly Value[]) => runs.map((row) => values[row])
  const from = snapshot.runs
  return {
    ...snapshot,
    samples: samples.map((index) => snapshot.samples[index]),
    starts: starts.map((index) => ({ ...snapshot.starts[index], sample: sampleAt[snapshot.starts[index].sample] })),
    runs: {
      id: column(from.id), start: runs.map((row) => startAt[from.start[row]]), workload: column(from.workload), order: column(from.order),
      outcome: column(from.outcome), value: column(from.value), seconds: column(from.seconds), setAside: column(from.setAside),
    },
  }
}

function inverse(list: readonly number[]): readonly number[] {
  const places: number[] = []
  list.forEach((old, place) => (places[old] = place))
  return places
}

/** Keeps the runs that `keep` accepts. */
export function withRuns(snapshot: GainSnapshot, keep: (row: number) => boolean): GainSnapshot {
  const { runs } = snapshot
  const pick = <Value>(values: readonly Value[]) => values.filter((_, row) => keep(row))
  return {
    ...snapshot,
    runs: {
      id: pick(runs.id), start: pick(runs.start), workload: pick(runs.workload), order: pick(runs.order),
      outcome: pick(runs.outcome), value: pick(runs.value), seconds: pick(runs.seconds), setAside: pick(runs.setAside),
    },
  }
}

/** Values of one workload changed. */
export function withValues(snapshot: GainSnapshot, workload: number, change: (value: number) => number): GainSnapshot {
  const value = snapshot.runs.value.map((old, row) => (old === null || snapshot.runs.workload[row] !== workload ? old : change(old)))
  return { ...snapshot, runs: { ...snapshot.runs, value } }
}
