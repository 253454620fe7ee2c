// Sufficient statistics of a table for every lambda: rows enter a group only through how many cells they have.
//
// With y centred at any m, t_r the row sum, n_r its cells, P_r = diag(1_r) - 1_r 1_r'/n_r (see docs/methods/row-intercepts.md):
//   L = sum P_r,  b = sum P_r y_r,  S = sum y_r' P_r y_r,  and for each n: M_n = sum 1_r 1_r',  v_n = sum t_r 1_r,  q_n = sum t_r^2

import type { RowTable, TableGroup } from './row-table.ts'

export interface GroupSums {
  readonly size: number
  /** L, size x size. */
  readonly within: Float64Array
  /** b */
  readonly withinVector: Float64Array
  /** S */
  readonly withinSquares: number
  readonly blocks: readonly CountBlock[]
}

/** The rows of a group that have exactly `cells` cells. */
export interface CountBlock {
  readonly cells: number
  rowCount: number
  /** M_n */
  readonly matrix: Float64Array
  /** v_n */
  readonly vector: Float64Array
  /** q_n */
  squares: number
}

/** Sums of every group about `centre` (one value a local column). Columns close to their fitted mean keep the most digits. */
export function sumRows(table: RowTable, centre: readonly Float64Array[]): GroupSums[] {
  return table.groups.map((group, g) => sumGroup(group, centre[g]))
}

function sumGroup(group: TableGroup, centre: Float64Array): GroupSums {
  const size = group.columns.length
  const within = new Float64Array(size * size)
  const withinVector = new Float64Array(size)
  let withinSquares = 0
  const blocks = new Map<number, CountBlock>()

  for (const { columns, values } of group.rows) {
    const cells = columns.length
    let block = blocks.get(cells)
    if (!block) {
      block = { cells, rowCount: 0, matrix: new Float64Array(size * size), vector: new Float64Array(size), squares: 0 }
      blocks.set(cells, block)
    }
    let total = 0
    for (let k = 0; k < cells; k++) total += values[k] - centre[columns[k]]
    const mean = total / cells
    block.rowCount += 1
    block.squares += total * total
    for (let k = 0; k < cells; k++) {
      const w = columns[k]
      const deviation = values[k] - centre[w] - mean
      withinSquares += deviation * deviation
      withinVector[w] += deviation
      within[w * size + w] += 1
      block.vector[w] += total
      for (let j = 0; j < cells; j++) block.matrix[w * size + columns[j]] += 1
    }
  }
  const list = [...blocks.values()].sort((a, b) => a.cells - b.cells)
  for (const { cells, matrix } of list) {
    for (let i = 0; i < within.length; i++) within[i] -= matrix[i] / cells
  }
  return { size, within, withinVector, withinSquares, blocks: list }
}
