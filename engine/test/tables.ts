// Seeded tables for tests: a generator of their own, so that what is tested does not also make the data.

import type { RowInterceptInput } from '../index.ts'

export interface TableRecipe {
  readonly seed: number
  readonly rowsPerGroup: readonly number[]
  readonly columnCount: number
  readonly rowDeviation: number
  readonly cellDeviation: number
  /** Share of cells left out. */
  readonly holes: number
}

/** Uniform numbers in (0, 1) by Marsaglia's 32-bit xorshift (J. Stat. Software 8(14), 2003). */
export function uniforms(seed: number): () => number {
  let state = (seed * 2654435761 + 1) >>> 0 || 1
  const next = (): number => {
    state ^= state << 13
    state ^= state >>> 17
    state ^= state << 5
    state >>>= 0
    return state / 2 ** 32
  }
  for (let i = 0; i < 20; i++) next()
  return next
}

export function normals(seed: number): () => number {
  const uniform = uniforms(seed)
  return () => Math.sqrt(-2 * Math.log(uniform())) * Math.cos(2 * Math.PI * uniform())
}

export function drawTable({ seed, rowsPerGroup, columnCount, rowDeviation, cellDeviation, holes }: TableRecipe): RowInterceptInput {
  const uniform = uniforms(seed)
  const normal = normals(seed + 1_000_003)
  const groupOfRow = rowsPerGroup.flatMap((count, g) => Array<number>(count).fill(g))
  const mean = rowsPerGroup.map(() => Array.from({ length: columnCount }, () => 4 + 0.3 * normal()))
  const cells: { row: number; column: number; value: number }[] = []
  groupOfRow.forEach((g, row) => {
    const shift = rowDeviation * normal()
    for (let column = 0; column < columnCount; column++) {
      const value = mean[g][column] + shift + cellDeviation * normal()
      if (uniform() >= holes) cells.push({ row, column, value })
    }
  })
  return tableOf(rowsPerGroup.length, columnCount, groupOfRow, cells)
}

export function tableOf(
  groupCount: number,
  columnCount: number,
  groupOfRow: readonly number[],
  cells: readonly { readonly row: number; readonly column: number; readonly value: number }[],
): RowInterceptInput {
  return {
    groupCount,
    columnCount,
    groupOfRow: Int32Array.from(groupOfRow),
    rows: Int32Array.from(cells, (c) => c.row),
    columns: Int32Array.from(cells, (c) => c.column),
    values: Float64Array.from(cells, (c) => c.value),
  }
}

/** A table from rows of values; null is a hole. */
export function tableFromRows(groupOfRow: readonly number[], rows: readonly (readonly (number | null)[])[]): RowInterceptInput {
  const cells = rows.flatMap((row, r) => row.flatMap((value, column) => (value === null ? [] : [{ row: r, column, value }])))
  return tableOf(Math.max(...groupOfRow) + 1, rows[0].length, groupOfRow, cells)
}
