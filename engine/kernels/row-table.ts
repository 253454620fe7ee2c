// A table with holes, arranged by row: which cells each row has, and which columns each group has.

import { InvalidArgument } from '../invalid-argument.ts'

/** Rows without cells are dropped; local column numbers count only the columns a group has. */
export interface RowTable {
  readonly rowCount: number
  readonly cellCount: number
  /** Most cells in any row. */
  readonly widest: number
  readonly groups: readonly TableGroup[]
  /** Largest absolute value, the scale that rounding is judged by. */
  readonly largest: number
}

export interface TableGroup {
  /** Global numbers of the columns with data, rising. */
  readonly columns: Int32Array
  readonly rows: readonly TableRow[]
  /** Component of each local column: columns are linked when some row has both. */
  readonly component: Int32Array
  readonly componentCount: number
  readonly cellCount: number
}

export interface TableRow {
  /** Local column of each cell. */
  readonly columns: Int32Array
  readonly values: Float64Array
}

export interface TableInput {
  readonly groupCount: number
  readonly columnCount: number
  readonly groupOfRow: Int32Array
  readonly rows: Int32Array
  readonly columns: Int32Array
  readonly values: Float64Array
}

/** Arranges cells whose indices were already checked. A cell given twice only shows here, and is refused with InvalidArgument. */
export function arrangeTable(input: TableInput): RowTable {
  const { groupCount, columnCount, groupOfRow, rows, columns, values } = input
  const start = rowStarts(rows, groupOfRow.length)
  const order = new Int32Array(values.length)
  const next = Int32Array.from(start)
  for (let i = 0; i < values.length; i++) order[next[rows[i]]++] = i

  const local = new Int32Array(groupCount * columnCount).fill(-1)
  for (let i = 0; i < values.length; i++) local[groupOfRow[rows[i]] * columnCount + columns[i]] = 0
  const groupColumns = numberColumns(local, groupCount, columnCount)

  const groupRows: TableRow[][] = Array.from({ length: groupCount }, () => [])
  const lastRowOf = new Int32Array(columnCount).fill(-1)
  let widest = 0
  let largest = 0
  for (let r = 0; r < groupOfRow.length; r++) {
    const count = start[r + 1] - start[r]
    if (count === 0) continue
    widest = Math.max(widest, count)
    const row = { columns: new Int32Array(count), values: new Float64Array(count) }
    for (let k = 0; k < count; k++) {
      const cell = order[start[r] + k]
      if (lastRowOf[columns[cell]] === r) throw new InvalidArgument('cells', 'given once each', `row ${r}, column ${columns[cell]} twice`)
      lastRowOf[columns[cell]] = r
      row.columns[k] = local[groupOfRow[r] * columnCount + columns[cell]]
      row.values[k] = values[cell]
      largest = Math.max(largest, Math.abs(values[cell]))
    }
    groupRows[groupOfRow[r]].push(row)
  }

  const groups = groupColumns.map((present, g) => {
    const { component, componentCount } = linkColumns(present.length, groupRows[g])
    const cellCount = groupRows[g].reduce((sum, row) => sum + row.values.length, 0)
    return { columns: present, rows: groupRows[g], component, componentCount, cellCount }
  })
  return { rowCount: groups.reduce((sum, g) => sum + g.rows.length, 0), cellCount: values.length, widest, groups, largest }
}

function rowStarts(rows: Int32Array, rowCount: number): Int32Array {
  const start = new Int32Array(rowCount + 1)
  for (const r of rows) start[r + 1] += 1
  for (let r = 0; r < rowCount; r++) start[r + 1] += start[r]
  return start
}

/** Replaces each present mark by the column's local number and lists the columns of each group. */
function numberColumns(local: Int32Array, groupCount: number, columnCount: number): Int32Array[] {
  return Array.from({ length: groupCount }, (_unused, g) => {
    const present: number[] = []
    for (let w = 0; w < columnCount; w++) {
      if (local[g * columnCount + w] < 0) continue
      local[g * columnCount + w] = present.length
      present.push(w)
    }
    return Int32Array.from(present)
  })
}

function linkColumns(columnCount: number, rows: readonly TableRow[]): { component: Int32Array; componentCount: number } {
  const parent = Int32Array.from({ length: columnCount }, (_unused, w) => w)
  const root = (w: number): number => {
    let at = w
    while (parent[at] !== at) {
      parent[at] = parent[parent[at]]
      at = parent[at]
    }
    return at
  }
  for (const { columns } of rows) {
    for (let k = 1; k < columns.length; k++) parent[root(columns[k])] = root(columns[0])
  }
  const label = new Int32Array(columnCount).fill(-1)
  const component = new Int32Array(columnCount)
  let componentCount = 0
  for (let w = 0; w < columnCount; w++) {
    const r = root(w)
    if (label[r] < 0) label[r] = componentCount++
    component[w] = label[r]
  }
  return { component, componentCount }
}

/** Mean of each column of a group. */
export function columnMeans(group: TableGroup): Float64Array {
  const mean = new Float64Array(group.columns.length)
  const count = new Int32Array(group.columns.length)
  for (const { columns, values } of group.rows) {
    for (let k = 0; k < columns.length; k++) {
      const w = columns[k]
      count[w] += 1
      mean[w] += (values[k] - mean[w]) / count[w]
    }
  }
  return mean
}
