// The fit of tables with holes against R, a dense twin, the analysis of variance and its own symmetries.

import * as fc from 'fast-check'
import { describe, expect, test } from 'vitest'
import { fitRowIntercepts, rowInterceptContrast, type RowInterceptFit, type RowInterceptInput } from '../index.ts'
import { fitByLikelihood } from '../kernels/likelihood-fit.ts'
import { arrangeTable } from '../kernels/row-table.ts'
import { denseContrast, denseDeviance, denseFit } from './dense-twin.ts'
import { reference, relativeDifference } from './reference.ts'
import { drawTable, tableFromRows, tableOf } from './tables.ts'

interface Estimated {
  readonly estimate: number
  readonly variance: number
  readonly df: number
}

function contrast(fit: RowInterceptFit, coefficients: readonly (readonly number[])[]): Estimated {
  const answer = rowInterceptContrast(fit, coefficients)
  if (answer.status !== 'estimated') throw new Error(answer.status)
  return answer
}

/** The same weight on every column that has data in the group. */
function groupMean(fit: RowInterceptFit, group: number): number[][] {
  const present = fit.mu[group].filter((m) => m !== null).length
  return fit.mu.map((row, g) => row.map((m) => (g === group && m !== null ? 1 / present : 0)))
}

function fitWithoutShortCut(input: RowInterceptInput): RowInterceptFit {
  return { ...fitRowIntercepts(input), ...fitByLikelihood(arrangeTable(input)) }
}

function expectNear(got: number, want: number, tolerance: number, what: string): void {
  expect(relativeDifference(got, want), `${what}: got ${got}, want ${want}`).toBeLessThan(tolerance)
}

describe('against R (lme4 and lmerTest)', () => {
  interface ReferenceSet {
    readonly name: string
    readonly groupCount: number
    readonly columnCount: number
    readonly groupOfRow: number[]
    readonly rows: number[]
    readonly columns: number[]
    readonly values: number[]
    readonly lambda: number
    readonly sigma2: number
    readonly contrasts: readonly { label: string; coefficients: number[][]; estimate: number; standardError: number; df: number }[]
  }
  const { sets } = reference('row-intercepts/row-intercepts.json') as { sets: ReferenceSet[] } // shape set by the script beside it

  test.each(sets.map((set) => [set.name, set] as const))('%s: estimates, standard errors and df agree', (_name, set) => {
    const fit = fitRowIntercepts({
      groupCount: set.groupCount,
      columnCount: set.columnCount,
      groupOfRow: Int32Array.from(set.groupOfRow),
      rows: Int32Array.from(set.rows),
      columns: Int32Array.from(set.columns),
      values: Float64Array.from(set.values),
    })
    expect(fit.status).toBe('converged')
    // R's search stops where the likelihood is flat to its tolerance; 1e-7 in lambda is what it reached here.
    expectNear(fit.lambda, set.lambda, 1e-6, 'lambda')
    expectNear(fit.sigma2, set.sigma2, 1e-6, 'sigma2')
    for (const want of set.contrasts) {
      const got = contrast(fit, want.coefficients)
      expectNear(got.estimate, want.estimate, 1e-6, `${want.label}, estimate`)
      expectNear(Math.sqrt(got.variance), want.standardError, 1e-6, `${want.label}, standard error`)
      expectNear(got.df, want.df, 1e-4, `${want.label}, df`)
    }
  })
})

describe('against the dense twin', () => {
  const recipes = Array.from({ length: 14 }, (_unused, i) => ({
    seed: 100 + i,
    rowsPerGroup: i % 2 === 0 ? [7] : [4, 5],
    columnCount: 2 + (i % 3),
    rowDeviation: [0.05, 0.02, 0.01, 0][i % 4],
    cellDeviation: 0.02,
    holes: 0.2,
  }))

  test.each(recipes.map((recipe) => [recipe.seed, recipe] as const))('table %i: same optimum, same contrasts', (_seed, recipe) => {
    const input = drawTable(recipe)
    const fit = fitRowIntercepts(input)
    expect(fit.route).toMatch(/profile|row variance at zero/)
    const twin = denseFit(input)
    if (fit.status === 'boundary') {
      // The likelihood runs to the end of the range: the twin ends there too, and the fit steps back to 0.
      expect(fit.lambda).toBe(0)
      expect(Math.log1p(twin.lambda * widest(input))).toBeLessThan(-9)
    } else {
      // Tight on the objective; lambda itself only as well as golden section sees it, the square root of rounding.
      expect(denseDeviance(input, fit.lambda, fit.sigma2)).toBeLessThan(twin.deviance + 1e-9)
      expect(Math.abs(fit.lambda - twin.lambda)).toBeLessThan(1e-5 * (1 + Math.abs(twin.lambda)))
    }
    const shapes = [groupMean(fit, 0), fit.mu.map((row, g) => row.map((_m, w) => (g === 0 && w === 0 ? 1 : g === 0 && w === 1 ? -1 : 0)))]
    for (const shape of shapes) {
      const got = contrast(fit, shape)
      const want = denseContrast(input, fit.lambda, fit.sigma2, shape)
      expectNear(got.estimate, want.estimate, 1e-10, 'estimate')
      expectNear(got.variance, want.variance, 1e-9, 'variance')
      // Second differences keep about six digits.
      if (fit.status === 'converged') expectNear(got.df, want.df, 1e-4, 'df')
    }
  })

  test('of two minima the lower is taken', () => {
    // A seeded table whose profile has one minimum near phi = -2.8 and a lower one near 0.6.
    const input = drawTable({ seed: 2545 * 31, rowsPerGroup: [4], columnCount: 3, rowDeviation: 0.01, cellDeviation: 0.02, holes: 0.25 })
    const fit = fitRowIntercepts(input)
    expect(Math.abs(fit.lambda - denseFit(input).lambda)).toBeLessThan(1e-5)
    expect(fit.lambda).toBeGreaterThan(0)
  })

  test('the recipes reach positive, negative and zero row variance', () => {
    const lambdas = recipes.map((recipe) => fitRowIntercepts(drawTable(recipe)).lambda)
    expect(lambdas.some((l) => l > 0.5)).toBe(true)
    expect(lambdas.some((l) => l < 0)).toBe(true)
  })
})

describe('balanced tables', () => {
  const input = drawTable({ seed: 5, rowsPerGroup: [4, 6], columnCount: 3, rowDeviation: 0.02, cellDeviation: 0.02, holes: 0 })

  test('the mean over columns has the variance and df of the row means', () => {
    const means = rowMeans(input)
    const squares = [means.slice(0, 4), means.slice(4)].map((list) => {
      const m = list.reduce((s, v) => s + v, 0) / list.length
      return list.reduce((s, v) => s + (v - m) ** 2, 0)
    })
    const variance = (squares[0] + squares[1]) / 8
    for (const fit of [fitRowIntercepts(input), fitWithoutShortCut(input)]) {
      const got = contrast(fit, groupMean(fit, 0))
      expectNear(got.estimate, means.slice(0, 4).reduce((s, v) => s + v, 0) / 4, 1e-13, 'estimate')
      expectNear(got.variance, variance / 4, 1e-11, 'variance')
      expect(Math.abs(got.df - 8)).toBeLessThan(1e-8)
    }
  })

  test('a row variance below zero is kept, so that the mean still has the row means as its measure', () => {
    const opposed = tableFromRows([0, 0, 0, 0], [[1, 2.02], [1.1, 1.9], [0.95, 2.06], [1.05, 1.95]])
    for (const fit of [fitRowIntercepts(opposed), fitWithoutShortCut(opposed)]) {
      expect(fit.lambda).toBeLessThan(0)
      const means = rowMeans(opposed)
      const m = means.reduce((s, v) => s + v, 0) / 4
      expectNear(contrast(fit, [[0.5, 0.5]]).variance, means.reduce((s, v) => s + (v - m) ** 2, 0) / 12, 1e-10, 'variance')
      expect(Math.abs(contrast(fit, [[0.5, 0.5]]).df - 3)).toBeLessThan(1e-8)
    }
  })

  test('the search and the closed form agree on every contrast', () => {
    fc.assert(
      fc.property(fc.integer({ min: 1, max: 100_000 }), fc.constantFrom(0, 0.01, 0.05), (seed, rowDeviation) => {
        const table = drawTable({ seed, rowsPerGroup: [3, 5], columnCount: 3, rowDeviation, cellDeviation: 0.02, holes: 0 })
        const [closed, searched] = [fitRowIntercepts(table), fitWithoutShortCut(table)]
        // Row means that nearly tie push the search to the end of its range, where it steps back to 0.
        fc.pre(searched.route === 'profile')
        for (const shape of [[[1, 0, 0], [0, 0, 0]], [[0.2, 0.3, 0.5], [-0.2, -0.3, -0.5]], [[1, -1, 0], [0, 0, 0]]]) {
          const [a, b] = [contrast(closed, shape), contrast(searched, shape)]
          expectNear(b.estimate, a.estimate, 1e-10, 'estimate')
          expectNear(b.variance, a.variance, 1e-8, 'variance')
          expectNear(b.df, a.df, 1e-7, 'df')
        }
      }),
      { numRuns: 60 },
    )
  })
})

describe('special tables', () => {
  test('one column is the pooled variance between rows', () => {
    const fit = fitRowIntercepts(tableFromRows([0, 0, 1, 1, 1], [[1], [3], [10], [10], [13]]))
    expect(fit.route).toBe('one cell a row')
    const got = contrast(fit, [[-1], [1]])
    expect(got.estimate).toBe(9)
    // (2 + 6) / 3 = 8/3 pooled, times 1/2 + 1/3.
    expectNear(got.variance, (8 / 3) * (5 / 6), 1e-14, 'variance')
    expect(got.df).toBe(3)
  })

  test('one cell a row in several columns pools over columns', () => {
    const fit = fitRowIntercepts(tableFromRows([0, 0, 0, 0, 0], [[1, null], [3, null], [null, 10], [null, 10], [null, 13]]))
    const got = contrast(fit, [[-1, 1]])
    expectNear(got.variance, (8 / 3) * (5 / 6), 1e-14, 'variance')
    expect(got.df).toBe(3)
  })

  test('equal values have variance 0 and the df of the rows, with holes or without', () => {
    for (const hole of [0.1, null]) {
      const fit = fitRowIntercepts(tableFromRows([0, 0, 0, 0], [[0.1, 0.3], [0.1, 0.3], [0.1, 0.3], hole === null ? [0.1, null] : [0.1, 0.3]]))
      expect(fit.status).toBe('boundary')
      expect(fit.sigma2).toBe(0)
      const got = contrast(fit, [[0.5, 0.5]])
      expectNear(got.estimate, 0.2, 1e-14, 'estimate')
      expect(got.variance).toBe(0)
      expect(got.df).toBe(3)
    }
  })

  test('rows that differ by a shift only leave the variance of their levels, holes or not', () => {
    // Levels 0, 2, 4, 6: variance 20/3.
    const fit = fitRowIntercepts(tableFromRows([0, 0, 0, 0], [[1, 5, 9], [3, 7, null], [null, 9, 13], [7, 11, 15]]))
    expect(fit.route).toBe('rows differ by a shift only')
    expect(fit.lambda).toBe(Infinity)
    const level = contrast(fit, [[0, 1, 0]])
    expectNear(level.estimate, 8, 1e-13, 'estimate')
    expectNear(level.variance, 20 / 3 / 4, 1e-12, 'variance')
    expect(level.df).toBe(3)
    const difference = contrast(fit, [[-1, 1, 0]])
    expectNear(difference.estimate, 4, 1e-13, 'difference')
    expect(difference.variance).toBe(0)
  })

  test('a tiny cell variance runs smoothly into that limit', () => {
    const shift = [0, 2, 4, 6]
    const noise = [1, -1, 0.5, -0.4, 0.7, 0.2, -0.9, 0.3, 0.1, -0.6, 0.8, -0.2]
    const table = (size: number): RowInterceptInput =>
      tableFromRows([0, 0, 0, 0], shift.map((s, r) => [1, 5, 9].map((m, w) => (r === 1 && w === 2 ? null : m + s + size * noise[3 * r + w]))))
    for (const size of [1e-3, 1e-5, 1e-6, 1e-7, 1e-9]) {
      const got = contrast(fitRowIntercepts(table(size)), [[0, 1, 0]])
      expectNear(got.variance, 20 / 3 / 4, 2 * size, `variance at ${size}`)
      expect(Math.abs(got.df - 3)).toBeLessThan(2 * size)
      const difference = contrast(fitRowIntercepts(table(size)), [[-1, 1, 0]])
      const scale = contrast(fitRowIntercepts(table(1e-3)), [[-1, 1, 0]]).variance / 1e-6
      expectNear(difference.variance, scale * size * size, 1e-3, `difference at ${size}`)
    }
  })

  test('a row deviation up to any multiple of the cell deviation agrees with the closed form to 1e-6', () => {
    for (const cellDeviation of [1e-2, 1e-3, 3e-4, 1e-4, 1e-6]) {
      const input = drawTable({ seed: 9, rowsPerGroup: [5, 4], columnCount: 3, rowDeviation: 1, cellDeviation, holes: 0 })
      const [closed, searched] = [fitRowIntercepts(input), fitWithoutShortCut(input)]
      for (const shape of [[[1, -1, 0], [0, 0, 0]], [[1, 0, 0], [-1, 0, 0]], [[0, 0.5, 0.5], [0, 0, 0]]]) {
        const [a, b] = [contrast(closed, shape), contrast(searched, shape)]
        expectNear(b.variance, a.variance, 1e-6, `variance at ${cellDeviation}`)
        expectNear(b.df, a.df, 1e-6, `df at ${cellDeviation}`)
      }
    }
  })

  test('balanced row means that tie have variance 0 and keep their df', () => {
    const fit = fitRowIntercepts(tableFromRows([0, 0, 0], [[1, 2], [2, 1], [1.5, 1.5]]))
    expect(fit.status).toBe('boundary')
    expect(contrast(fit, [[0.5, 0.5]])).toEqual({ status: 'estimated', estimate: 1.5, variance: 0, df: 2 })
    expect(contrast(fit, [[1, -1]]).variance).toBeGreaterThan(0)
  })

  test('a row variance set to zero takes its df from the expected information', () => {
    // Tied row means, sent through the search: the likelihood falls to the end. On a balanced table the expected information is that of two independent
    // mean squares whatever lambda is, so the mean over columns has 3 - 1 df, and one column (two equal parts with 2 df each) has 4.
    const fit = fitWithoutShortCut(tableFromRows([0, 0, 0], [[1, 2], [2, 1], [1.5, 1.5]]))
    expect(fit.route).toBe('row variance at zero')
    expect(fit.status).toBe('boundary')
    expectNear(contrast(fit, [[0.5, 0.5]]).df, 2, 1e-12, 'df of the mean')
    expectNear(contrast(fit, [[1, 0]]).df, 4, 1e-12, 'df of a column')
    // Cells then count as independent: sigma2 = 1/4 from 4 residual df (sum of squares 1), over 6 cells.
    expectNear(contrast(fit, [[0.5, 0.5]]).variance, 1 / 24, 1e-12, 'variance')
  })

  test('one row a group identifies no variance, and the means stand', () => {
    const fit = fitRowIntercepts(tableFromRows([0, 1], [[1, 2], [3, 5]]))
    expect(fit.status).toBe('not identified')
    expect(rowInterceptContrast(fit, [[-0.5, -0.5], [0.5, 0.5]])).toEqual({ status: 'variance not identified', estimate: 2.5 })
  })

  test('rows that overlap too little to tell two variances identify none', () => {
    const fit = fitRowIntercepts(tableFromRows([0, 0, 0], [[1, 2], [1.2, null], [null, 2.1]]))
    expect(fit.status).toBe('not identified')
  })

  test('a mean without data is listed, and a contrast that needs it is refused by name', () => {
    const fit = fitRowIntercepts(tableFromRows([0, 0, 1, 1], [[1, 2], [1.1, 2.2], [3, null], [3.2, null]]))
    expect(fit.missing).toEqual([{ group: 1, column: 1 }])
    expect(fit.mu[1][1]).toBeNull()
    expect(rowInterceptContrast(fit, [[0, -1], [0, 1]])).toEqual({ status: 'missing means', missing: [{ group: 1, column: 1 }] })
    expect(rowInterceptContrast(fit, [[-1, 0], [1, 0]]).status).toBe('estimated')
  })

  test('rows and groups without cells change nothing', () => {
    const plain = fitRowIntercepts(tableFromRows([0, 0, 0], [[1, 2.1], [1.3, 2.2], [0.9, null]]))
    const padded = fitRowIntercepts(tableOf(3, 2, [1, 0, 0, 0, 2], [
      { row: 1, column: 0, value: 1 }, { row: 1, column: 1, value: 2.1 }, { row: 2, column: 0, value: 1.3 },
      { row: 2, column: 1, value: 2.2 }, { row: 3, column: 0, value: 0.9 },
    ]))
    expect(contrast(padded, [[0.5, 0.5], [0, 0], [0, 0]])).toEqual(contrast(plain, [[0.5, 0.5]]))
  })
})

describe('symmetries', () => {
  const recipe = fc.record({
    seed: fc.integer({ min: 1, max: 1_000_000 }),
    rowsPerGroup: fc.array(fc.integer({ min: 3, max: 6 }), { minLength: 1, maxLength: 3 }),
    columnCount: fc.integer({ min: 2, max: 4 }),
    rowDeviation: fc.constantFrom(0.005, 0.02, 0.05),
    cellDeviation: fc.constant(0.02),
    holes: fc.constantFrom(0, 0.15, 0.3),
  })

  test('the order of rows and cells changes nothing', () => {
    fc.assert(
      fc.property(recipe, (r) => {
        const input = drawTable(r)
        const base = comparable(input)
        fc.pre(base !== null)
        const rowCount = input.groupOfRow.length
        const turned = (row: number): number => (row * 7 + 3) % (rowCount % 7 === 0 ? 1 : rowCount)
        fc.pre(rowCount % 7 !== 0)
        const groupOfRow = Int32Array.from(input.groupOfRow)
        input.groupOfRow.forEach((g, row) => (groupOfRow[turned(row)] = g))
        const fit = fitRowIntercepts({
          ...input,
          groupOfRow,
          rows: input.rows.map(turned).reverse(),
          columns: input.columns.toReversed(),
          values: input.values.toReversed(),
        })
        expectSame(contrast(fit, base.shape), contrast(base.fit, base.shape))
      }),
    )
  })

  test('adding a constant to one column moves only its means', () => {
    fc.assert(
      fc.property(recipe, (r) => {
        const input = drawTable(r)
        const base = comparable(input)
        fc.pre(base !== null)
        const moved = fitRowIntercepts({ ...input, values: input.values.map((v, i) => v + (input.columns[i] === 1 ? 2 : 0)) })
        moved.mu.forEach((row, g) =>
          row.forEach((m, w) => {
            const before = base.fit.mu[g][w]
            if (m !== null && before !== null) expect(Math.abs(m - before - (w === 1 ? 2 : 0))).toBeLessThan(1e-8)
          }),
        )
        const [a, b] = [contrast(moved, base.shape), contrast(base.fit, base.shape)]
        expectNear(a.variance, b.variance, 1e-7, 'variance')
        expectNear(a.df, b.df, 1e-6, 'df')
      }),
    )
  })

  test('scaling the values by c scales estimates by c and variances by c squared, and keeps df', () => {
    fc.assert(
      fc.property(recipe, fc.constantFrom(-1, 1e-3, 3, 1e6), (r, c) => {
        const input = drawTable(r)
        const base = comparable(input)
        fc.pre(base !== null)
        const got = contrast(fitRowIntercepts({ ...input, values: input.values.map((v) => v * c) }), base.shape)
        const want = contrast(base.fit, base.shape)
        expectSame(got, { estimate: c * want.estimate, variance: c * c * want.variance, df: want.df })
      }),
    )
  })
})

test('input outside the contract is refused with name, rule and value', () => {
  const good = tableFromRows([0, 0], [[1, 2], [1.1, 2.3]])
  expect(() => fitRowIntercepts({ ...good, values: Float64Array.of(1, 2, Number.NaN, 4) })).toThrow('values[2] must be finite; got NaN')
  expect(() => fitRowIntercepts({ ...good, columns: Int32Array.of(0, 1, 0, 2) })).toThrow('columns[3] must be an index below 2; got 2')
  expect(() => fitRowIntercepts({ ...good, columns: Int32Array.of(0, 0, 0, 1) })).toThrow('cells must be given once each; got row 0, column 0 twice')
  expect(() => fitRowIntercepts({ ...good, values: Float64Array.of(), rows: Int32Array.of(), columns: Int32Array.of() })).toThrow('values.length must be at least 1')
  const fit = fitRowIntercepts(good)
  expect(() => rowInterceptContrast(fit, [[1]])).toThrow('coefficients[0].length must be 2; got 1')
  expect(() => rowInterceptContrast(fit, [[0, 0]])).toThrow('coefficients must be different from 0 in one place at least; got all 0')
})

function widest(input: RowInterceptInput): number {
  const counts = new Map<number, number>()
  for (const row of input.rows) counts.set(row, (counts.get(row) ?? 0) + 1)
  return Math.max(...counts.values())
}

function rowMeans(input: RowInterceptInput): number[] {
  return Array.from(input.groupOfRow, (_g, row) => {
    const values = [...input.values].filter((_v, i) => input.rows[i] === row)
    return values.reduce((s, v) => s + v, 0) / values.length
  })
}

function comparable(input: RowInterceptInput): { fit: RowInterceptFit; shape: number[][] } | null {
  const fit = fitRowIntercepts(input)
  if (fit.basis.kind === 'none' || fit.mu[0].every((m) => m === null)) return null
  return { fit, shape: groupMean(fit, 0) }
}

function expectSame(got: Estimated, want: Estimated): void {
  expectNear(got.estimate, want.estimate, 1e-10, 'estimate')
  expectNear(got.variance, want.variance, 1e-8, 'variance')
  expectNear(got.df, want.df, 1e-7, 'df')
}
