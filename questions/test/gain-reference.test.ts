// Gain's estimates, standard errors, degrees of freedom, intervals, chances and joint verdicts against R.
import { describe, expect, test } from 'vitest'
import type { Estimate, GainWorkload } from '@guardband/model'
import { compute } from '../gain/compute.ts'
import { checked, inTurns, reference, relativeDifference, snapshotOf, type PlannedRun } from './snapshots.ts'

interface Expected {
  readonly scope: Estimate['scope']
  readonly key: string
  readonly estimate: number
  readonly standardError: number
  readonly df: number
  readonly low: number
  readonly high: number
}

interface ReferenceCase {
  readonly name: string
  readonly tools: string
  readonly workloads: readonly Pick<GainWorkload, 'weight' | 'unit' | 'compares' | 'direction'>[]
  readonly starts: readonly { readonly side: 0 | 1; readonly sample: number; readonly hour: number }[]
  /** start, workload (both from 1), value */
  readonly runs: readonly (readonly [number, number, number])[]
  readonly expect: readonly Expected[]
  readonly money?: { readonly extraPrice: number; readonly worthOfOnePercent: number; readonly partPrice: number; readonly machinePrice: number }
  readonly worth?: { readonly value: number; readonly low: number; readonly high: number; readonly pays: number; readonly part: number; readonly machine: number }
  readonly holm?: { readonly adjusted: readonly number[] }
}

const { cases } = reference('gain/gain.json') as { cases: readonly ReferenceCase[] } // shape set by the script beside it

function answerOf(of: ReferenceCase) {
  const snapshot = snapshotOf(
    {
      starts: of.starts.map((start) => ({ ...start, sample: start.sample - 1 })),
      workloads: of.workloads.map(({ weight, unit, compares, direction }) => ({ weight, unit, compares, direction })),
      runs: of.runs.map(([start, workload, value]): PlannedRun => ({ start: start - 1, workload: workload - 1, value })),
    },
    of.money === undefined ? {} : { money: of.money },
  )
  return compute(checked(snapshot))
}

/** One workload needs no overall of its own in R; ours has both. */
function find(estimates: readonly Estimate[], { key, scope }: Pick<Expected, 'key' | 'scope'>): Estimate {
  const found = estimates.find((estimate) => estimate.key === key && estimate.scope === scope)
  if (found === undefined) throw new Error(`no estimate ${key} in ${scope}`)
  return found
}

/** From the scale computed on to what is printed. */
function shown(value: number, unit: string): number {
  return unit === '%' ? 100 * Math.expm1(value) : value
}

describe.each(cases.map((of) => [of.name, of] as const))('%s', (_name, of) => {
  const answer = answerOf(of)
  // R keeps 15 digits in the file and its t quantile about eight; lmer's search ends where the likelihood is flat to it, as for the engine's own tables.
  const searched = of.tools.includes('lmer')
  const tolerance = searched ? 1e-6 : 1e-10
  const dfTolerance = searched ? 1e-4 : 1e-9
  const quantile = searched ? 1e-5 : 1e-8

  test.each(of.expect.map((want) => [`${want.key}, ${want.scope}`, want] as const))('%s agrees with R', (_what, want) => {
    const got = find(answer.estimates, want)
    expect(relativeDifference(got.computed?.estimate ?? null, want.estimate), 'estimate').toBeLessThan(tolerance)
    expect(relativeDifference(got.computed?.standardError ?? null, want.standardError), 'standard error').toBeLessThan(tolerance)
    expect(relativeDifference(got.computed?.df ?? null, want.df), 'df').toBeLessThan(dfTolerance)
    // Ends lie near zero at times, so they are held against the interval's width.
    const width = shown(want.high, got.unit) - shown(want.low, got.unit)
    expect(Math.abs((got.low ?? Number.NaN) - shown(want.low, got.unit)) / width, 'low').toBeLessThan(quantile)
    expect(Math.abs((got.high ?? Number.NaN) - shown(want.high, got.unit)) / width, 'high').toBeLessThan(quantile)
  })

  test('drift is taken out where the case is about drift, and only there', () => {
    expect(answer.cautions.some((caution) => caution.code === 'drift')).toBe(of.name.startsWith('drift'))
  })
})

function asText(chance: number): string {
  return chance < 0.01 ? 'under 1 %' : chance > 0.99 ? 'over 99 %' : `${Math.round(100 * chance)} %`
}

function overall(plan: Parameters<typeof snapshotOf>[0], scope: Estimate['scope']): Estimate {
  return find(compute(checked(snapshotOf(plan))).estimates, { key: 'overall', scope })
}

describe.each(cases.flatMap((of) => (of.worth === undefined ? [] : [[of.name, of, of.worth] as const])))('%s', (_name, of, worth) => {
  const answer = answerOf(of)

  test('the break-even worth of one percent and its ends agree with R', () => {
    const got = answer.estimates.find((estimate) => estimate.role === 'worth')
    expect(relativeDifference(got?.value ?? null, worth.value)).toBeLessThan(1e-9)
    expect(relativeDifference(got?.low ?? null, worth.low)).toBeLessThan(1e-7)
    expect(relativeDifference(got?.high ?? null, worth.high)).toBeLessThan(1e-7)
  })

  test('the chances printed are those of pt, rounded to whole percent', () => {
    const sentences = answer.sections.find((section) => section.code === 'worth')?.sentences.join(' ') ?? ''
    const printed = [...sentences.matchAll(/chance of that is (under 1 %|over 99 %|\d+ %)/g)].map(([, chance]) => chance)
    expect(printed).toEqual([worth.pays, worth.part, worth.machine].map(asText))
  })
})

test.each(cases.flatMap((of) => (of.holm === undefined ? [] : [[of.name, of, of.holm] as const])))('%s: the workloads that stand together are those of p.adjust below 0.05', (_name, of, holm) => {
  const sentence = answerOf(of).sections.find((section) => section.code === 'joint')?.sentences[0] ?? ''
  const stands = holm.adjusted.map((p) => p < 0.05)
  expect(stands).toContain(true)
  expect(stands).toContain(false)
  stands.forEach((stand, index) => expect(sentence.includes(`workload ${index + 1}`), `workload ${index + 1}`).toBe(stand))
})

describe('supplied worked values', () => {
  const { items } = reference('supplied/a-measurement.json') as { items: readonly SuppliedItem[] } // shape stated in reference/README.md
  interface SuppliedItem {
    readonly id: string
    readonly inputs: { readonly A?: readonly number[]; readonly B?: readonly number[]; readonly ratios?: readonly number[]; readonly weights?: readonly number[] }
    readonly outputs: { readonly ratio: number; readonly se: number; readonly df: number; readonly lo: number; readonly hi: number }
  }

  const item = (id: string) => {
    const found = items.find((one) => one.id === id)
    if (found === undefined) throw new Error(`no supplied item ${id}`)
    return found
  }

  function expectSupplied(got: Estimate, want: SuppliedItem['outputs']): void {
    // The file holds 15 digits.
    expect(relativeDifference(Math.exp(got.computed?.estimate ?? Number.NaN), want.ratio)).toBeLessThan(1e-12)
    expect(relativeDifference(got.computed?.standardError ?? null, want.se)).toBeLessThan(1e-11)
    expect(relativeDifference(got.computed?.df ?? null, want.df)).toBeLessThan(1e-11)
    expect(relativeDifference(1 + (got.low ?? Number.NaN) / 100, want.lo)).toBeLessThan(1e-9)
    expect(relativeDifference(1 + (got.high ?? Number.NaN) / 100, want.hi)).toBeLessThan(1e-9)
  }

  test('eight pairs are eight samples that ran on both sides', () => {
    const { inputs, outputs } = item('A2.paired_log')
    const [a, b] = [inputs.A ?? [], inputs.B ?? []]
    const starts = a.flatMap((_, sample) => [{ side: 0 as const, sample }, { side: 1 as const, sample }])
    const runs = starts.map(({ side, sample }, start) => ({ start, workload: 0, value: (side === 0 ? a : b)[sample] }))
    expectSupplied(overall({ starts, workloads: [{}], runs }, 'samples like these'), outputs)
  })

  test('five and six scores are samples of two parts', () => {
    const { inputs, outputs } = item('A2.welch_log')
    const [a, b] = [inputs.A ?? [], inputs.B ?? []]
    const starts = [...a.map((_, sample) => ({ side: 0 as const, sample })), ...b.map((_, index) => ({ side: 1 as const, sample: a.length + index }))]
    const runs = starts.map((_, start) => ({ start, workload: 0, value: [...a, ...b][start] }))
    expectSupplied(overall({ starts, workloads: [{}], runs }, 'samples like these'), outputs)
  })

  test('a weighted geometric mean of ratios 1.08, 0.99, 1.20 with weights 0.5, 0.3, 0.2 is 1.07458', () => {
    const ratios = [1.08, 0.99, 1.2]
    const starts = [{ side: 0 as const, sample: 0 }, { side: 1 as const, sample: 0 }]
    const runs = starts.flatMap(({ side }, start) => ratios.map((ratio, workload) => ({ start, workload, value: side === 0 ? 50 : 50 * ratio })))
    const got = overall({ starts, workloads: [5, 3, 2].map((weight) => ({ weight })), runs }, 'these samples')
    // The sheet prints six digits.
    expect(relativeDifference(Math.exp(got.computed?.estimate ?? Number.NaN), 1.07458)).toBeLessThan(5e-6)
    expect(got.low).toBeNull()
  })
})

describe('scores that all tie', () => {
  // All starts of A read 100 and of B 101 in workload 1, 50 and 51 in workload 2, on an instrument of step 1. Weights 3 and 1.
  const samples = 5
  const starts = inTurns(samples, 3)
  const runs = starts.flatMap(({ side }, start) => [100, 50].map((level, workload): PlannedRun => ({ start, workload, value: level + side })))
  const workloads = [{ weight: 3, resolution: 1 }, { weight: 1, resolution: 1 }]
  // Closed form: step squared over 12 for each sample x side mean, relative to the mean of the distinct scores, with squared weights (JCGM 100:2008, F.2.2.1).
  const q = (0.75 / 100.5) ** 2 / 12 + (0.25 / 50.5) ** 2 / 12

  test.each([
    // Quantiles of the normal and of t on 4 degrees of freedom, by R: qnorm(.975), qt(.975, 4).
    { scope: 'these samples' as const, quantile: 1.959963984540054, df: null },
    { scope: 'samples like these' as const, quantile: 2.776445105197793, df: samples - 1 },
  ])('have the interval of rounding alone for $scope', ({ scope, quantile, df }) => {
    const got = overall({ starts, workloads, runs }, scope)
    const standardError = Math.sqrt((2 * q) / samples)
    expect(got.computed?.df).toBe(df)
    expect(relativeDifference(got.computed?.standardError ?? null, standardError)).toBeLessThan(1e-12)
    expect(relativeDifference(Math.log1p((got.high ?? Number.NaN) / 100) - (got.computed?.estimate ?? Number.NaN), quantile * standardError)).toBeLessThan(1e-9)
  })
})
