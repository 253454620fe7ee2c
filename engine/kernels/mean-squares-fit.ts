// The two cases that need no search: balanced tables, and tables whose rows differ by a shift only (lambda infinite).
// There the rows' levels and the cells' deviations are independent, and the variance of any contrast is a sum of two mean squares:
//   variance = sigma2 a' L+ a + levelVariance sum_k (sum of a over component k)^2 / rows_k
// Also the case of one cell a row, where each column is a component of its own and sigma2 plays no part.

import { choleskyInto, choleskySolve } from './cholesky.ts'
import { columnMeans, type RowTable, type TableGroup } from './row-table.ts'
import { sumRows } from './row-sums.ts'

export interface MeanSquares {
  readonly groups: readonly MeanSquaresGroup[]
  /** Mean square of cells about row level plus column mean; 0 where cells leave no degrees of freedom. */
  readonly sigma2: number
  readonly dfCells: number
  /** Variance of a row's level about the level of its component. */
  readonly levelVariance: number
  readonly dfRows: number
}

export interface MeanSquaresGroup {
  readonly mu: Float64Array
  readonly component: Int32Array
  readonly rowsOfComponent: Int32Array
  /** Factor of L + J, J one in every block of a component: its inverse acts as L+ on vectors that sum to 0 in each component. */
  readonly factor: Float64Array
}

/** Needs at least one degree of freedom between rows. Sums of squares no larger than rounding are returned as 0. */
export function fitMeanSquares(table: RowTable): MeanSquares {
  const centre = table.groups.map(columnMeans)
  const sums = sumRows(table, centre)
  const rounding = roundingSquares(table)
  let cellSquares = 0
  let levelSquares = 0
  let componentCount = 0
  let columnCount = 0
  const groups = table.groups.map((group, g): MeanSquaresGroup => {
    const factor = componentFactor(group, sums[g].within)
    const shift = choleskySolve(factor, group.columns.length, sums[g].withinVector)
    const additive = centre[g].map((c, w) => c + shift[w])
    const levels = levelsOf(group, additive)
    cellSquares += levels.cellSquares
    levelSquares += levels.levelSquares
    componentCount += group.componentCount
    columnCount += group.columns.length
    const mu = additive.map((m, w) => m + levels.mean[group.component[w]])
    return { mu, component: group.component, rowsOfComponent: levels.rows, factor }
  })
  const dfRows = table.rowCount - componentCount
  const dfCells = table.cellCount - columnCount - dfRows
  return {
    groups,
    sigma2: dfCells > 0 && cellSquares > rounding ? cellSquares / dfCells : 0,
    dfCells,
    levelVariance: levelSquares > rounding ? levelSquares / dfRows : 0,
    dfRows,
  }
}

/** Squares of differences that rounding alone can make: each value is taken to carry up to 16 units in its last place. */
function roundingSquares(table: RowTable): number {
  return table.cellCount * (16 * Number.EPSILON * table.largest) ** 2
}

function componentFactor(group: TableGroup, within: Float64Array): Float64Array {
  const p = group.columns.length
  const factor = Float64Array.from(within)
  for (let i = 0; i < p; i++) {
    for (let j = 0; j < p; j++) if (group.component[i] === group.component[j]) factor[i * p + j] += 1
  }
  if (!choleskyInto(factor, p)) throw new Error('L + J is positive definite by construction')
  return factor
}

interface Levels {
  readonly mean: Float64Array
  readonly rows: Int32Array
  readonly levelSquares: number
  readonly cellSquares: number
}

/** The level of each row is the mean of its cells after the additive column means; summed up by component. */
function levelsOf(group: TableGroup, additive: Float64Array): Levels {
  const mean = new Float64Array(group.componentCount)
  const rows = new Int32Array(group.componentCount)
  let levelSquares = 0
  let cellSquares = 0
  for (const { columns, values } of group.rows) {
    let level = 0
    for (let k = 0; k < columns.length; k++) level += (values[k] - additive[columns[k]]) / columns.length
    for (let k = 0; k < columns.length; k++) cellSquares += (values[k] - additive[columns[k]] - level) ** 2
    const component = group.component[columns[0]]
    rows[component] += 1
    const fromOldMean = level - mean[component]
    mean[component] += fromOldMean / rows[component]
    levelSquares += fromOldMean * (level - mean[component])
  }
  return { mean, rows, levelSquares, cellSquares }
}
