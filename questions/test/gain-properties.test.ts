// What must hold for any lab: symmetry of the sides, units that cancel, order that carries no meaning, workloads that leave each other alone.
import * as fc from 'fast-check'
import { describe, expect, test } from 'vitest'
import { convert, type Answer, type Estimate, type GainSnapshot } from '@guardband/model'
import { compute } from '../gain/compute.ts'
import { table, text } from '../gain/tell.ts'
import { build, recipes, shuffled, withRuns, withValues, type Recipe } from './generated.ts'
import { checked, swapped } from './snapshots.ts'

const MIRROR: Readonly<Record<string, string>> = {
  faster: 'slower', slower: 'faster', 'faster-unclear': 'slower-unclear', 'slower-unclear': 'faster-unclear', 'faster-small': 'slower-small', 'slower-small': 'faster-small', same: 'same', open: 'open', 'not-fair': 'not-fair',
}

/** Holes are fitted by a search that ends within about 1e-9 of the optimum; the rest is rounding. */
const NEAR = 1e-7

function measured(answer: Answer): readonly Estimate[] {
  return answer.estimates.filter((estimate) => estimate.role !== 'worth')
}

function pairs(one: Answer, other: Answer): readonly (readonly [Estimate, Estimate])[] {
  expect(measured(other).map((estimate) => `${estimate.scope} ${estimate.key}`)).toEqual(measured(one).map((estimate) => `${estimate.scope} ${estimate.key}`))
  return measured(one).map((estimate, index) => [estimate, measured(other)[index]] as const)
}

/** Differences are held against the standard error, since a gain may be zero. */
function expectNear(got: number | null | undefined, want: number | null | undefined, scale: number, what: string): void {
  if (got === null || want === null || got === undefined || want === undefined) expect(got, what).toBe(want)
  else expect(Math.abs(got - want), `${what}: got ${got}, want ${want}`).toBeLessThanOrEqual(NEAR * Math.max(scale, 1e-6))
}

function expectSameFigures(one: Estimate, other: Estimate): void {
  const scale = one.computed?.standardError ?? Math.abs(one.computed?.estimate ?? 0)
  expectNear(other.computed?.estimate, one.computed?.estimate, scale, `${one.key} estimate`)
  expectNear(other.computed?.standardError, one.computed?.standardError, scale, `${one.key} standard error`)
  expectNear(other.computed?.df, one.computed?.df, 100, `${one.key} df`)
}

function hold(property: (recipe: Recipe, snapshot: GainSnapshot) => void, runs = 150): void {
  fc.assert(fc.property(recipes, (recipe) => property(recipe, build(recipe))), { numRuns: runs, seed: 20261102 })
}

test('the generator reaches intervals in both scopes, drift taken out, holes, pooling and rounding', () => {
  const seen = new Set<string>()
  hold((_recipe, snapshot) => {
    const answer = compute(checked(snapshot))
    for (const estimate of answer.estimates) if (estimate.low !== null) seen.add(estimate.scope)
    for (const caution of answer.cautions) seen.add(caution.code)
    for (const method of answer.methods) seen.add(method.text.slice(0, 17))
  })
  for (const wanted of ['these samples', 'samples like these', 'drift', 'drift-confounded', 'pooled-starts', 'tied-scores', 'set-aside', 'failed-runs', 'Some starts lack ']) expect(seen).toContain(wanted)
})

describe('swapping the sides', () => {
  test('inverts every ratio, keeps every width and mirrors every verdict', () => {
    hold((_recipe, snapshot) => {
      const [one, other] = [compute(snapshot), compute(swapped(snapshot))]
      for (const [estimate, mirror] of pairs(one, other)) {
        const scale = estimate.computed?.standardError ?? Math.abs(estimate.computed?.estimate ?? 0)
        expectNear(mirror.computed?.estimate, estimate.computed === null ? undefined : -estimate.computed.estimate, scale, `${estimate.key} estimate`)
        expectNear(mirror.computed?.standardError, estimate.computed?.standardError, scale, `${estimate.key} standard error`)
        expectNear(mirror.computed?.df, estimate.computed?.df, 100, `${estimate.key} df`)
        expect(mirror.verdict?.code ?? null).toBe(estimate.verdict === null ? null : MIRROR[estimate.verdict.code])
        if (estimate.unit === '%' && estimate.low !== null && mirror.high !== null) expect((1 + estimate.low / 100) * (1 + mirror.high / 100)).toBeCloseTo(1, 8)
      }
      one.views.forEach((view, index) => expect(other.views[index].verdict.code).toBe(MIRROR[view.verdict.code]))
      expect(other.settle?.runs).toBe(one.settle?.runs)
      expect(other.settle?.hand).toBe(one.settle?.hand)
      expect(other.cautions.map((caution) => caution.code).toSorted()).toEqual(one.cautions.map((caution) => caution.code).toSorted())
    })
  })
})

describe('units cancel', () => {
  test('a constant factor on one workload changes nothing where scores compare as ratios', () => {
    hold((recipe, snapshot) => {
      const workload = recipe.workloads.findIndex(({ kind }) => kind === 'ratio')
      if (workload < 0 || recipe.step !== null) return
      for (const [estimate, other] of pairs(compute(snapshot), compute(withValues(snapshot, workload, (value) => value * 7.3)))) expectSameFigures(estimate, other)
    })
  })

  test('milliseconds give what seconds give', () => {
    hold((recipe, snapshot) => {
      const workload = recipe.workloads.findIndex(({ kind, lower }) => kind === 'ratio' && lower)
      if (workload < 0) return
      const inMs = withValues(snapshot, workload, (value) => convert(value, 's', 'ms') ?? Number.NaN)
      const relabelled = { ...inMs, workloads: inMs.workloads.map((each, index) => (index === workload ? { ...each, unit: 'ms' } : each)) }
      // Scores that tie keep their step in the unit shown: 1 s is 1000 ms, and where all are equal the last digit printed differs.
      if (recipe.step !== null) return
      for (const [estimate, other] of pairs(compute(snapshot), compute(relabelled))) expectSameFigures(estimate, other)
    })
  })
})

describe('order carries no meaning', () => {
  test('shuffled runs, starts and samples give the same figures, to 1e-12, and the same text', () => {
    hold((recipe, snapshot) => {
      const [one, other] = [compute(snapshot), compute(shuffled(snapshot, recipe.seed + 1))]
      for (const [estimate, mirror] of pairs(one, other)) {
        for (const field of ['estimate', 'standardError', 'df'] as const) {
          const [a, b] = [estimate.computed?.[field] ?? 0, mirror.computed?.[field] ?? 0]
          expect(Math.abs(a - b)).toBeLessThanOrEqual(1e-12 * Math.abs(a))
        }
      }
      expect(withoutDigest(other)).toBe(withoutDigest(one))
      for (const scope of ['these samples', 'samples like these'] as const) expect(table(other, scope)).toEqual(table(one, scope))
    })
  })
})

describe('an irrelevant workload', () => {
  test('with other scores leaves the estimates of the others alone', () => {
    hold((recipe, snapshot) => {
      const last = recipe.workloads.length - 1
      if (last === 0) return
      // A strong slope over time, so that the changed workload, and the overall with it, drifts.
      const hour = snapshot.starts.map((_, index) => index / 2)
      const value = snapshot.runs.value.map((old, row) => (old === null || snapshot.runs.workload[row] !== last ? old : old * Math.exp(0.05 * hour[snapshot.runs.start[row]])))
      const [one, other] = [compute(snapshot), compute({ ...snapshot, runs: { ...snapshot.runs, value } })]
      for (let workload = 0; workload < last; workload++) expect(rowsOf(other, `workload:w${workload + 1}`)).toEqual(rowsOf(one, `workload:w${workload + 1}`))
    })
  })

  test('added or left out moves no row of the others', () => {
    hold((recipe, snapshot) => {
      const last = recipe.workloads.length - 1
      if (last === 0) return
      const without = { ...withRuns(snapshot, (row) => snapshot.runs.workload[row] !== last), workloads: snapshot.workloads.slice(0, last) }
      const [whole, part] = [compute(snapshot), compute(without)]
      for (let workload = 0; workload < last; workload++) expect(rowsOf(part, `workload:w${workload + 1}`)).toEqual(rowsOf(whole, `workload:w${workload + 1}`))
    })
  })
})

describe('what is not there', () => {
  test('runs set aside count as absent runs do, but for being listed', () => {
    hold((_recipe, snapshot) => {
      const [kept, absent] = [compute(snapshot), compute(withRuns(snapshot, (row) => snapshot.runs.setAside[row] === null))]
      for (const [estimate, other] of pairs(kept, absent)) expect(other).toEqual(estimate)
      expect(absent.views).toEqual(kept.views)
      expect(absent.settle).toEqual(kept.settle)
      expect(absent.cautions).toEqual(kept.cautions.filter((caution) => caution.code !== 'set-aside'))
    })
  })
})

describe('copies of everything', () => {
  test.each(['runs', 'starts', 'samples'] as const)('%s twice on both sides keep every estimate', (what) => {
    hold((recipe, snapshot) => {
      // More starts may show a drift that fewer did not, and with holes a row's share in the fit goes by the variances found; runs only repeat a start's mean.
      if (what !== 'runs' && (recipe.holes > 0 || recipe.failed > 0 || recipe.setAside > 0 || recipe.drift !== 0)) return
      const [one, other] = [compute(snapshot), compute(twice(snapshot, what))]
      const drifts = [one, other].some((answer) => answer.cautions.some((caution) => caution.code === 'drift' || caution.code === 'workload-drift'))
      // Twice the starts can be enough for a line over time to come out.
      const lines = [one, other].map((answer) => answer.methods.some(({ text }) => text.startsWith('A straight line')))
      if (what !== 'runs' && (drifts || lines[0] !== lines[1])) return
      for (const [estimate, copy] of pairs(one, other)) expectNear(copy.computed?.estimate, estimate.computed?.estimate, Math.abs(estimate.computed?.estimate ?? 0), estimate.key)
    }, 300)
  })
})

function withoutDigest(answer: Answer): string {
  return text({ ...answer, snapshotDigest: '' }, { scope: answer.scope, width: 90 })
}

function rowsOf(answer: Answer, key: string): readonly Estimate[] {
  return answer.estimates.filter((estimate) => estimate.key === key)
}

function twice(snapshot: GainSnapshot, what: 'runs' | 'starts' | 'samples'): GainSnapshot {
  const { runs } = snapshot
  const samples = what === 'samples' ? [...snapshot.samples, ...snapshot.samples.map((sample) => ({ ...sample, id: `${sample.id} again`, label: `${sample.label} again` }))] : snapshot.samples
  const again = snapshot.starts.map((start) => ({ ...start, id: `${start.id} again`, sample: start.sample + (what === 'samples' ? snapshot.samples.length : 0) }))
  return {
    ...snapshot,
    samples: [...samples],
    starts: what === 'runs' ? snapshot.starts : [...snapshot.starts, ...again],
    runs: {
      id: [...runs.id, ...runs.id.map((id) => `${id} again`)], start: [...runs.start, ...runs.start.map((start) => start + (what === 'runs' ? 0 : snapshot.starts.length))],
      workload: both(runs.workload), order: both(runs.order), outcome: both(runs.outcome), value: both(runs.value), seconds: both(runs.seconds), setAside: both(runs.setAside),
    },
  }
}

function both<Value>(values: readonly Value[]): Value[] {
  return [...values, ...values]
}
