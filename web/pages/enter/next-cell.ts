// Where the cursor goes: to the next run that is still to be entered, down the workloads or across the repeats.
import type { CellPlace } from './cell.tsx'
import type { Direction } from './keys.ts'

export interface Filled {
  /** Runs of each workload. */
  readonly counts: readonly number[]
  readonly repeats: number
  /** Workloads whose next repeat waits for a person's word. */
  readonly asked: ReadonlySet<number>
}

/** Null where nothing is left to enter; a questioned figure comes last. */
export function nextCell({ counts, repeats, asked }: Filled, from: CellPlace | null, direction: Direction): CellPlace | null {
  const order = placesInOrder(counts.length, repeats, direction)
  const at = from === null ? -1 : order.findIndex(({ row, column }) => row === from.row && column === from.column)
  const turned = [...order.slice(at + 1), ...order.slice(0, at + 1)]
  const open = turned.find(({ row, column }) => counts[row] === column && !asked.has(row))
  return open ?? turned.find(({ row, column }) => counts[row] === column) ?? null
}

function placesInOrder(rows: number, columns: number, direction: Direction): readonly CellPlace[] {
  const [outer, inner] = direction === 'down' ? [columns, rows] : [rows, columns]
  return Array.from({ length: outer * inner }, (_, place) => {
    const [slow, fast] = [Math.floor(place / inner), place % inner]
    return direction === 'down' ? { row: fast, column: slow } : { row: slow, column: fast }
  })
}

/** Beside a cell, staying within the grid. */
export function besideCell({ row, column }: CellPlace, key: 'ArrowUp' | 'ArrowDown' | 'ArrowLeft' | 'ArrowRight', size: { readonly rows: number; readonly columns: number }): CellPlace {
  if (key === 'ArrowUp') return { row: within(row - 1, size.rows), column }
  if (key === 'ArrowDown') return { row: within(row + 1, size.rows), column }
  return { row, column: within(column + (key === 'ArrowLeft' ? -1 : 1), size.columns) }
}

function within(place: number, most: number): number {
  return Math.min(Math.max(place, 0), most - 1)
}
