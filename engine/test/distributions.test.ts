// Normal and t distributions against R, 40-digit arithmetic and closed forms.

import * as fc from 'fast-check'
import { describe, expect, test } from 'vitest'
import { InvalidArgument, normalCdf, normalQuantile, tCdf, tProbabilityAbove, tQuantile, tUpperTail } from '../index.ts'
import { reference, relativeDifference } from './reference.ts'

interface Table {
  readonly tQuantile: readonly { p: number; df: number; t: number }[]
  readonly t: readonly { t: number; df: number; lower: number; upper?: number }[]
  readonly normalQuantile: readonly { p: number; x: number }[]
  readonly normal: readonly { x: number; lower: number }[]
}
const r = reference('distributions/distributions.json') as Table // shape set by the script beside it
const middle = reference('distributions/central.json') as Pick<Table, 'tQuantile' | 't'> // shape set by the script beside it

// Both programs claim about 1e-12 for these routines; R's own pt at large df is an approximation of that order.
const T_TOLERANCE = 1e-12
// A rational approximation good to the last bits, and arguments that are doubles: a few ulps.
const NORMAL_QUANTILE_TOLERANCE = 2e-15
// exp(-x^2/2) at x = 37 magnifies one ulp of x^2 about 700 times.
const NORMAL_TOLERANCE = 2e-13

describe('normal distribution', () => {
  test('quantiles agree with R from p = 1e-300 to 1 - 1e-9', () => {
    for (const { p, x } of r.normalQuantile) expect(relativeDifference(normalQuantile(p), x), `p ${p}`).toBeLessThan(NORMAL_QUANTILE_TOLERANCE)
  })

  test('probabilities agree with R down to x = -37', () => {
    for (const { x, lower } of r.normal) expect(relativeDifference(normalCdf(x), lower), `x ${x}`).toBeLessThan(NORMAL_TOLERANCE)
  })

  test('the quantile undoes the distribution function, which comes from another method', () => {
    fc.assert(
      fc.property(fc.double({ min: 1e-300, max: 0.5, noNaN: true }), (p) => {
        expect(relativeDifference(normalCdf(normalQuantile(p)), p)).toBeLessThan(1e-12)
      }),
    )
  })

  test('the ends of the probability scale are infinite', () => {
    expect(normalQuantile(0)).toBe(-Infinity)
    expect(normalQuantile(1)).toBe(Infinity)
  })
})

describe("Student's t", () => {
  test('tail quantiles agree with R for df from 0.5 to infinity', () => {
    for (const { p, df, t } of r.tQuantile) expect(relativeDifference(tQuantile(p, df), t), `p ${p} df ${df}`).toBeLessThan(T_TOLERANCE)
  })

  test('quantiles near one half agree with 40-digit arithmetic', () => {
    for (const { p, df, t } of middle.tQuantile) expect(relativeDifference(tQuantile(p, df), t), `p ${p} df ${df}`).toBeLessThan(1e-14)
  })

  test('both tails agree with R, beyond |t| = 30 too', () => {
    for (const { t, df, lower, upper } of r.t) {
      expect(relativeDifference(tCdf(t, df), lower), `lower, t ${t} df ${df}`).toBeLessThan(T_TOLERANCE)
      expect(relativeDifference(tUpperTail(t, df), upper ?? Number.NaN), `upper, t ${t} df ${df}`).toBeLessThan(T_TOLERANCE)
    }
  })

  test('probabilities near one half agree with 40-digit arithmetic', () => {
    for (const { t, df, lower } of middle.t) expect(relativeDifference(tCdf(t, df), lower), `t ${t} df ${df}`).toBeLessThan(1e-15)
  })

  test('df 1 and df 2 meet their closed forms', () => {
    for (const p of [1e-12, 1e-4, 0.025, 0.3, 0.499, 0.4999999]) {
      // Far out -1/tan(pi p) keeps the digits, near the middle tan(pi (p - 1/2)) does.
      const cauchy = p < 0.25 ? -1 / Math.tan(Math.PI * p) : Math.tan(Math.PI * (p - 0.5))
      expect(relativeDifference(tQuantile(p, 1), cauchy), `p ${p}`).toBeLessThan(1e-13)
      const two = (2 * p - 1) / Math.sqrt(2 * p * (1 - p))
      expect(relativeDifference(tQuantile(p, 2), two), `p ${p}`).toBeLessThan(1e-13)
    }
  })

  test('very large df runs into the normal without a step', () => {
    for (const df of [9.99e11, 1.001e12, 1e17, 1e300, Infinity]) {
      expect(relativeDifference(tQuantile(0.025, df), normalQuantile(0.025)), `df ${df}`).toBeLessThan(1e-11)
      expect(relativeDifference(tCdf(-8, df), normalCdf(-8)), `df ${df}`).toBeLessThan(5e-9)
      expect(tCdf(0, df)).toBe(0.5)
    }
    expect(relativeDifference(tCdf(-8, 9.99e11), tCdf(-8, 1.001e12))).toBeLessThan(1e-11)
  })

  test('the quantile undoes the distribution function at any df', () => {
    fc.assert(
      fc.property(fc.double({ min: 1e-15, max: 0.999, noNaN: true }), fc.double({ min: 0.3, max: 1e14, noNaN: true }), (p, df) => {
        expect(relativeDifference(tCdf(tQuantile(p, df), df), p)).toBeLessThan(1e-10)
      }),
    )
  })

  test('infinite t is certain and huge t is no half', () => {
    for (const df of [0.5, 7, 1e13, Infinity]) {
      expect(tCdf(Infinity, df)).toBe(1)
      expect(tCdf(-Infinity, df)).toBe(0)
    }
    expect(tCdf(-1e200, 1e13)).toBe(0)
  })
})

describe('probability above a threshold', () => {
  test('is the t probability of the standardised distance', () => {
    expect(tProbabilityAbove(0, 1, 0.5, 9)).toBe(tCdf(2, 9))
    expect(tProbabilityAbove(2, 1, 0.5, 9)).toBe(tCdf(-2, 9))
  })

  test('with no error is certain either way, and even on the threshold', () => {
    expect([tProbabilityAbove(0, 1, 0, 3), tProbabilityAbove(2, 1, 0, 3), tProbabilityAbove(1, 1, 0, 3)]).toEqual([1, 0, 0.5])
  })
})

test('arguments outside the contract are refused with name, rule and value', () => {
  expect(() => normalQuantile(1.5)).toThrow('p must be a probability from 0 to 1; got 1.5')
  expect(() => tQuantile(0.5, 0)).toThrow('df must be above 0 (Infinity allowed); got 0')
  expect(() => tCdf(Number.NaN, 3)).toThrow(InvalidArgument)
  expect(() => tProbabilityAbove(0, 1, -1, 3)).toThrow('standardError must be at least 0; got -1')
})
