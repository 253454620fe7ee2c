// A linear combination of the fitted means of a table with holes, with its variance and degrees of freedom.
//
//   variance v = sigma2 sum_g a_g' A_g^-1 a_g,   df = 2 v^2 / (grad v' I^-1 grad v)   (Satterthwaite)
// I is the REML information of (ln sigma2, phi), observed at an interior fit; where the fit is a closed form, v is a sum of two mean squares.
// Sources: F. E. Satterthwaite, Biometrics Bulletin 2 (1946) 110-114; F. G. Giesbrecht & J. C. Burns, Biometrics 41 (1985) 477-486.

import { requireFinite, requireLength } from './check-argument.ts'
import type { MissingMean, RowInterceptFit } from './fit-row-intercepts.ts'
import { InvalidArgument } from './invalid-argument.ts'
import { choleskySolve, quadratic } from './kernels/cholesky.ts'
import type { MeanSquaresGroup } from './kernels/mean-squares-fit.ts'
import type { ContrastBasis } from './kernels/outcome.ts'
import { welchSatterthwaite, type VarianceTerm } from './welch-satterthwaite.ts'

export type RowInterceptContrast =
  | { readonly status: 'estimated'; readonly estimate: number; readonly variance: number; readonly df: number }
  | { readonly status: 'variance not identified'; readonly estimate: number }
  | { readonly status: 'missing means'; readonly missing: readonly MissingMean[] }

/**
 * sum over g and w of coefficients[g][w] mu[g][w].
 *
 * `coefficients` has a row per group and an entry per column, as `fit.mu` has; at least one is not 0. A coefficient other than 0 on a mean without data gives
 * 'missing means' with their places; nothing is re-weighted. On balanced tables, coefficients constant over columns give df = fit.dfRows exactly.
 * Throws InvalidArgument when the shape differs, a coefficient is not finite or all are 0.
 *
 * @example rowInterceptContrast(fit, [[-0.5, -0.5], [0.5, 0.5]]) // difference of two groups, columns weighted alike
 */
export function rowInterceptContrast(fit: RowInterceptFit, coefficients: readonly ArrayLike<number>[]): RowInterceptContrast {
  checkCoefficients(fit, coefficients)
  const missing = fit.missing.filter(({ group, column }) => coefficients[group][column] !== 0)
  if (missing.length > 0) return { status: 'missing means', missing }

  let estimate = 0
  fit.mu.forEach((row, g) => row.forEach((mean, w) => (estimate += coefficients[g][w] * (mean ?? 0))))
  if (fit.basis.kind === 'none') return { status: 'variance not identified', estimate }
  const local = fit.basis.columns.map((columns, g) => Float64Array.from(columns, (w) => coefficients[g][w]))
  const { variance, df } = fit.basis.kind === 'mean squares' ? fromMeanSquares(fit.basis, local) : fromLikelihood(fit.basis, local)
  return { status: 'estimated', estimate, variance, df }
}

function fromMeanSquares({ fit }: Extract<ContrastBasis, { kind: 'mean squares' }>, local: readonly Float64Array[]): VarianceTerm {
  let cells = 0
  let levels = 0
  let largest = 0
  fit.groups.forEach((group, g) => {
    const parts = partsOf(group, local[g])
    cells += parts.cells
    levels += parts.levels
    largest = Math.max(largest, ...local[g].map(Math.abs))
  })
  // Coefficients meant to be constant, such as 1/3, or to sum to 0 leave parts of this size from rounding.
  const rounding = (ROUNDING * largest) ** 2
  const terms: VarianceTerm[] = []
  if (levels > rounding) terms.push({ variance: levels * fit.levelVariance, df: fit.dfRows })
  if (cells > rounding && fit.dfCells > 0) terms.push({ variance: cells * fit.sigma2, df: fit.dfCells })
  return welchSatterthwaite(terms)
}

/** Relative to the largest coefficient; sums over hundreds of columns stay below it. */
const ROUNDING = 1e-13

function partsOf({ component, rowsOfComponent, factor }: MeanSquaresGroup, a: Float64Array): { cells: number; levels: number } {
  const sum = new Float64Array(rowsOfComponent.length)
  const size = new Int32Array(rowsOfComponent.length)
  for (let w = 0; w < a.length; w++) {
    sum[component[w]] += a[w]
    size[component[w]] += 1
  }
  const deviation = a.map((value, w) => value - sum[component[w]] / size[component[w]])
  const solved = choleskySolve(factor, a.length, deviation)
  let cells = 0
  for (let w = 0; w < a.length; w++) cells += deviation[w] * solved[w]
  let levels = 0
  for (let k = 0; k < sum.length; k++) levels += (sum[k] * sum[k]) / rowsOfComponent[k]
  return { cells, levels }
}

function fromLikelihood({ sigma2, groups, information }: Extract<ContrastBasis, { kind: 'likelihood' }>, local: readonly Float64Array[]): VarianceTerm {
  let w = 0
  let wSlope = 0
  groups.forEach(({ factor, matrixSlope }, g) => {
    const a = local[g]
    const solved = choleskySolve(factor, a.length, a)
    for (let i = 0; i < a.length; i++) w += a[i] * solved[i]
    wSlope -= quadratic(solved, matrixSlope, solved)
  })
  // v = sigma2 w(phi), so ln v has gradient (1, w'/w) in (ln sigma2, phi).
  const slope = wSlope / w
  const { scale, cross, phi } = information
  const determinant = scale * phi - cross * cross
  const spread = (phi - 2 * cross * slope + scale * slope * slope) / determinant
  return { variance: sigma2 * w, df: 2 / spread }
}

function checkCoefficients(fit: RowInterceptFit, coefficients: readonly ArrayLike<number>[]): void {
  requireLength('coefficients', coefficients, fit.mu.length)
  let any = false
  for (let g = 0; g < coefficients.length; g++) {
    requireLength(`coefficients[${g}]`, coefficients[g], fit.columnCount)
    for (let w = 0; w < fit.columnCount; w++) {
      requireFinite(`coefficients[${g}][${w}]`, coefficients[g][w])
      any ||= coefficients[g][w] !== 0
    }
  }
  if (!any) throw new InvalidArgument('coefficients', 'different from 0 in one place at least', 'all 0')
}
