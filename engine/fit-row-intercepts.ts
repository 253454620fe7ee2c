// Means of a table with holes, when the cells of a row share a random shift.
//
// Model: y_rw = mu_{g(r),w} + u_r + e_rw,  Var e = sigma2,  Var u = lambda sigma2,  rows independent, one mean per group and column with data.
// Method: restricted maximum likelihood, profiled to one variable phi = ln(1 + n lambda), n the cells of the widest row; Newton with analytic derivatives
// on sums per group and row length, so the cost of a step does not grow with the rows. lambda may be negative, down to -1/n: on balanced tables the fit is
// then exactly the analysis of variance. Derivation and symbols: docs/methods/row-intercepts.md.
// Sources: H. D. Patterson & R. Thompson, Biometrika 58 (1971) 545-554; D. A. Harville, J. Amer. Statist. Assoc. 72 (1977) 320-338.

import { requireAllFinite, requireLength } from './check-argument.ts'
import { InvalidArgument } from './invalid-argument.ts'
import { fitByLikelihood } from './kernels/likelihood-fit.ts'
import { fitMeanSquares } from './kernels/mean-squares-fit.ts'
import type { ContrastBasis, Outcome } from './kernels/outcome.ts'
import { arrangeTable, columnMeans, type RowTable, type TableInput } from './kernels/row-table.ts'

/** One entry of `rows`, `columns`, `values` per cell with data, in any order; `groupOfRow` has one entry per row. Rows without cells are ignored. */
export type RowInterceptInput = TableInput

export interface RowInterceptFit {
  /**
   * converged: a stationary point of the likelihood, or a closed form.
   * boundary: a variance is 0: sigma2 (lambda Infinity, or 0 when nothing varies), the row variance (lambda 0), or in a balanced table that of the rows' means.
   * not identified: too little overlap to tell the two variances; means stand, contrasts have no variance.
   */
  readonly status: 'converged' | 'boundary' | 'not identified'
  /** Which computation gave the result. */
  readonly route: 'balanced' | 'one cell a row' | 'profile' | 'rows differ by a shift only' | 'row variance at zero' | 'none'
  /** Row variance over cell variance; may be negative. 0 where rows have one cell each: there only the sum, reported as sigma2, has a meaning. */
  readonly lambda: number
  readonly sigma2: number
  /** Evaluations of the profile; 0 for a closed form. */
  readonly evaluations: number
  /** mu[g][w]; null where group g has no data in column w. */
  readonly mu: readonly (readonly (number | null)[])[]
  readonly missing: readonly MissingMean[]
  readonly columnCount: number
  /** Rows and cells that had data. */
  readonly rowCount: number
  readonly cellCount: number
  /** Rows less linked blocks of columns: the degrees of freedom of a mean over the columns in a balanced table. */
  readonly dfRows: number
  /** What rowInterceptContrast needs; not meant to be read otherwise. */
  readonly basis: ContrastBasis
}

export interface MissingMean {
  readonly group: number
  readonly column: number
}

/**
 * Fits the model. Time grows with cells x cells per row once, then with groups x columns^3 per evaluation (about 35 of them).
 *
 * Accuracy: about 1e-9 relative up to a row deviation 100 times the cell deviation, never worse than about 1e-7 (against closed forms).
 * Throws InvalidArgument when lengths differ, an index is out of range, a cell occurs twice, a value is not finite or there are no cells.
 *
 * @example fitRowIntercepts({ groupCount: 1, columnCount: 2, groupOfRow: Int32Array.of(0, 0, 0), rows: Int32Array.of(0, 0, 1, 1, 2),
 *   columns: Int32Array.of(0, 1, 0, 1, 0), values: Float64Array.of(1, 2, 1.3, 2.2, 0.9) }).status // 'converged'
 */
export function fitRowIntercepts(input: RowInterceptInput): RowInterceptFit {
  checkInput(input)
  const table = arrangeTable(input)
  const means = table.groups.reduce((sum, g) => sum + g.columns.length, 0)
  const dfRows = table.rowCount - table.groups.reduce((sum, g) => sum + g.componentCount, 0)
  const residualCount = table.cellCount - means
  const describe = describer(input, table, dfRows)

  if (dfRows < 1) return describe({ ...NOTHING_KNOWN, means: table.groups.map(columnMeans) })
  if (isBalanced(table) || table.widest === 1) return describe(closedForm(table))
  if (residualCount - dfRows < 1) return describe({ ...NOTHING_KNOWN, means: table.groups.map(columnMeans) })
  return describe(fitByLikelihood(table))
}

const NOTHING_KNOWN = { status: 'not identified', route: 'none', lambda: 0, sigma2: 0, evaluations: 0, basis: { kind: 'none' } } as const

function closedForm(table: RowTable): Outcome {
  const fit = fitMeanSquares(table)
  const basis: ContrastBasis = { kind: 'mean squares', fit, columns: table.groups.map((g) => g.columns) }
  const means = fit.groups.map((g) => g.mu)
  const n = table.widest
  if (n === 1) {
    const status = fit.levelVariance === 0 ? 'boundary' : 'converged'
    return { status, route: 'one cell a row', lambda: 0, sigma2: fit.levelVariance, evaluations: 0, means, basis }
  }
  const rowVariance = fit.levelVariance - fit.sigma2 / n
  const lambda = rowVariance === 0 ? 0 : rowVariance / fit.sigma2
  const status = fit.sigma2 === 0 || fit.levelVariance === 0 ? 'boundary' : 'converged'
  return { status, route: 'balanced', lambda, sigma2: fit.sigma2, evaluations: 0, means, basis }
}

/** Every row as wide as the widest, and all rows of a group in the same columns. */
function isBalanced(table: RowTable): boolean {
  return table.groups.every((g) => g.rows.length === 0 || (g.columns.length === table.widest && g.cellCount === g.rows.length * table.widest))
}

function describer(input: RowInterceptInput, table: RowTable, dfRows: number): (outcome: Outcome) => RowInterceptFit {
  return ({ status, route, lambda, sigma2, evaluations, means, basis }) => {
    const mu = Array.from({ length: input.groupCount }, () => Array<number | null>(input.columnCount).fill(null))
    table.groups.forEach((group, g) => group.columns.forEach((w, i) => (mu[g][w] = means[g][i])))
    const missing = mu.flatMap((row, group) => row.flatMap((m, column) => (m === null ? [{ group, column }] : [])))
    return {
      status, route, lambda, sigma2, evaluations, mu, missing, dfRows, basis,
      columnCount: input.columnCount, rowCount: table.rowCount, cellCount: table.cellCount,
    }
  }
}

function checkInput({ groupCount, columnCount, groupOfRow, rows, columns, values }: RowInterceptInput): void {
  if (values.length === 0) throw new InvalidArgument('values.length', 'at least 1', 0)
  requireLength('rows', rows, values.length)
  requireLength('columns', columns, values.length)
  requireAllFinite('values', values)
  requireIndices('groupOfRow', groupOfRow, groupCount)
  requireIndices('rows', rows, groupOfRow.length)
  requireIndices('columns', columns, columnCount)
}

function requireIndices(name: string, indices: Int32Array, count: number): void {
  for (let i = 0; i < indices.length; i++) {
    if (!(indices[i] >= 0 && indices[i] < count)) throw new InvalidArgument(`${name}[${i}]`, `an index below ${count}`, indices[i])
  }
}
