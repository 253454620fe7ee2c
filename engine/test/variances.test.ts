// Means, variances, their degrees of freedom and the common trend against closed forms and supplied reference values.

import * as fc from 'fast-check'
import { describe, expect, test } from 'vitest'
import { linearTrend, meanAndVariance, pooledVariance, tQuantile, tUpperTail, welchSatterthwaite } from '../index.ts'
import { reference, relativeDifference } from './reference.ts'

interface Supplied {
  readonly items: readonly { id: string; inputs: Record<string, readonly number[]>; outputs: Record<string, number> }[]
}
interface Trend {
  readonly input: { groupOf: number[]; x: number[]; y: number[] }
  readonly output: { slope: number; standardError: number; df: number }
}

const document = reference('supplied/a-measurement.json') as Supplied // the file's own fixed layout
const supplied = new Map(document.items.map((item) => [item.id, item]))

function item(id: string): { inputs: Record<string, readonly number[]>; outputs: Record<string, number> } {
  const found = supplied.get(id)
  if (!found) throw new Error(`no supplied reference ${id}`)
  return found
}

/** Inputs are printed to 15 digits in places, and the reference states 1e-6; these formulas lose far less. */
const SUPPLIED_TOLERANCE = 1e-12

function expectNear(got: number, want: number, tolerance = SUPPLIED_TOLERANCE): void {
  expect(relativeDifference(got, want), `got ${got}, want ${want}`).toBeLessThan(tolerance)
}

const logs = (values: readonly number[]): number[] => values.map(Math.log)

describe('mean and variance', () => {
  test('a large common offset does not cancel', () => {
    const { mean, variance } = meanAndVariance([1e9 + 4, 1e9 + 7, 1e9 + 13, 1e9 + 16])
    expect(mean).toBe(1e9 + 10)
    expect(variance).toBe(30)
  })

  test('one value has a mean and no variance', () => {
    expect(meanAndVariance([3])).toEqual({ count: 1, mean: 3, sumOfSquares: 0, df: 0, variance: null })
  })

  test('equal values have variance exactly 0', () => {
    expect(meanAndVariance([0.1, 0.1, 0.1, 0.1, 0.1, 0.1]).variance).toBe(0)
  })

  test('scaling by c scales the variance by c squared, and a shift leaves it', () => {
    const values = fc.array(fc.double({ min: -1, max: 1, noNaN: true }), { minLength: 2, maxLength: 30 })
    fc.assert(
      fc.property(values, fc.double({ min: 0.5, max: 4, noNaN: true }), (list, c) => {
        const plain = meanAndVariance(list).variance ?? Number.NaN
        const moved = meanAndVariance(list.map((v) => c * v + 1)).variance ?? Number.NaN
        expect(Math.abs(moved - c * c * plain)).toBeLessThan(1e-13 * c * c)
      }),
    )
  })

  test('pooling weighs each group by its degrees of freedom; single values and empty groups add none', () => {
    // (2 + 6) / (1 + 2) by hand.
    expect(pooledVariance([[1, 3], [10, 10, 13], [5], []])).toEqual({ variance: 8 / 3, df: 3 })
    expect(pooledVariance([[1], [2]])).toEqual({ variance: null, df: 0 })
  })

  test('an empty list and a value that is not finite are refused', () => {
    expect(() => meanAndVariance([])).toThrow('values.length must be at least 1; got 0')
    expect(() => meanAndVariance([1, Infinity])).toThrow('values[1] must be finite; got Infinity')
  })
})

describe('Welch-Satterthwaite degrees of freedom', () => {
  test.each(['A5.satt', 'A5.satt.2', 'A5.satt.3'])('%s is reproduced', (id) => {
    const { inputs, outputs } = item(id)
    const { variance, df } = welchSatterthwaite(inputs.ms.map((ms, i) => ({ variance: inputs.coef[i] * ms, df: inputs.df[i] })))
    expectNear(variance, outputs.v)
    expectNear(df, outputs.df)
  })

  test('a suite of means with their own standard errors is reproduced', () => {
    const { inputs, outputs } = item('A2.suite_fixed')
    const k = inputs.se.length
    const { variance, df } = welchSatterthwaite(inputs.se.map((se, i) => ({ variance: (se / k) ** 2, df: inputs.df[i] })))
    expectNear(Math.sqrt(variance), outputs.se)
    expectNear(df, outputs.df)
    const mean = inputs.mean_log.reduce((sum, m) => sum + m, 0) / k
    expectNear(Math.exp(mean + tQuantile(0.975, df) * Math.sqrt(variance)), outputs.hi)
  })

  test('the two-list comparison of logs is reproduced, interval included', () => {
    const { inputs, outputs } = item('A2.welch_log')
    const a = meanAndVariance(logs(inputs.A))
    const b = meanAndVariance(logs(inputs.B))
    const { variance, df } = welchSatterthwaite([a, b].map((m) => ({ variance: (m.variance ?? Number.NaN) / m.count, df: m.df })))
    const se = Math.sqrt(variance)
    expectNear(se, outputs.se)
    expectNear(df, outputs.df)
    const difference = b.mean - a.mean
    expectNear(2 * tUpperTail(difference / se, df), outputs.p, 1e-10)
    expectNear(Math.exp(difference - tQuantile(0.975, df) * se), outputs.lo)
  })

  test('a known variance counts with df infinity', () => {
    const { inputs, outputs } = item('H3.welch_satt')
    const df = [4, 9, Infinity]
    const sum = welchSatterthwaite(inputs.u.map((u, i) => ({ variance: u * u, df: df[i] })))
    expectNear(Math.sqrt(sum.variance), outputs.u_c)
    expectNear(sum.df, outputs.nu_eff)
    expectNear(tQuantile(0.975, sum.df), outputs.k_95, 1e-9)
  })

  test('terms without variance are left out, and all of them together give the sum of df', () => {
    expect(welchSatterthwaite([{ variance: 2, df: 5 }, { variance: 0, df: 1 }])).toEqual({ variance: 2, df: 5 })
    expect(welchSatterthwaite([{ variance: 0, df: 5 }, { variance: 0, df: 1 }])).toEqual({ variance: 0, df: 6 })
  })

  test('variances whose squares underflow keep their df', () => {
    expectNear(welchSatterthwaite([{ variance: 1e-200, df: 5 }, { variance: 1e-200, df: 5 }]).df, 10)
  })

  test('df lies between the smallest and the sum, whatever the terms', () => {
    const term = fc.record({ variance: fc.double({ min: 1e-6, max: 1e6, noNaN: true }), df: fc.double({ min: 0.5, max: 100, noNaN: true }) })
    fc.assert(
      fc.property(fc.array(term, { minLength: 1, maxLength: 8 }), (terms) => {
        const { df } = welchSatterthwaite(terms)
        expect(df).toBeGreaterThanOrEqual(Math.min(...terms.map((t) => t.df)) * (1 - 1e-12))
        expect(df).toBeLessThanOrEqual(terms.reduce((sum, t) => sum + t.df, 0) * (1 + 1e-12))
      }),
    )
  })
})

test('paired logs: interval and far tail probabilities are reproduced', () => {
  const { inputs, outputs } = item('A2.paired_log')
  const d = meanAndVariance(logs(inputs.B).map((b, i) => b - Math.log(inputs.A[i])))
  const se = Math.sqrt((d.variance ?? Number.NaN) / d.count)
  expectNear(se, outputs.se, 1e-11)
  expectNear(Math.exp(d.mean + tQuantile(0.975, d.df) * se), outputs.hi)
  expectNear(2 * tUpperTail(d.mean / se, d.df), outputs.p, 1e-9)

  const tost = item('A4.tost_paired').outputs
  const theta = Math.log(1.02)
  expectNear(tUpperTail((d.mean + theta) / se, d.df), tost.p_low, 1e-9)
  expectNear(tUpperTail((theta - d.mean) / se, d.df), tost.p_high, 1e-9)
})

describe('common trend', () => {
  test('agrees with R on two groups', () => {
    const { input, output } = reference('trend/trend.json') as Trend // shape set by the script beside it
    const fit = linearTrend(input)
    if (fit.status !== 'fitted') throw new Error(fit.reason)
    expectNear(fit.slope, output.slope)
    expectNear(fit.standardError, output.standardError)
    expect(fit.df).toBe(output.df)
  })

  test('levels of the groups do not touch the slope', () => {
    const base = { groupOf: [0, 0, 0, 1, 1, 1], x: [0, 1, 2, 5, 6, 7], y: [1, 2.1, 2.9, 1, 2, 3.2] }
    const shifted = { ...base, y: base.y.map((y, i) => y + (base.groupOf[i] === 1 ? 50 : 0)) }
    const a = linearTrend(base)
    const b = linearTrend(shifted)
    if (a.status !== 'fitted' || b.status !== 'fitted') throw new Error('not fitted')
    expectNear(b.slope, a.slope)
    expectNear(b.standardError, a.standardError, 1e-11)
  })

  test('x constant within each group identifies no slope', () => {
    expect(linearTrend({ groupOf: [0, 0, 1, 1], x: [0.1, 0.1, 0.3, 0.3], y: [1, 2, 3, 4] })).toEqual({
      status: 'not identified',
      reason: 'x varies within no group',
    })
    expect(linearTrend({ groupOf: [], x: [], y: [] }).status).toBe('not identified')
  })

  test('two points in one group leave no error to judge by', () => {
    expect(linearTrend({ groupOf: [0, 0], x: [0, 1], y: [0, 1] })).toEqual({ status: 'not identified', reason: 'no points left to tell the error' })
  })
})
