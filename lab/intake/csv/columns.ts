// The columns that a CSV of runs may have. docs/guide/csv.md says what each means.
import { nearest } from '@guardband/model'

export const COLUMNS = [
  'part', 'sample', 'picked', 'origin', 'batch', 'slot', 'tune', 'rig', 'start', 'how', 'time', 'firmware', 'system', 'ambient', 'workload', 'group', 'measure',
  'unit', 'direction', 'value', 'outcome', 'phase', 'place', 'order', 'seconds', 'known',
] as const
export type Column = (typeof COLUMNS)[number]

export function asColumn(header: string): Column | undefined {
  const name = header.trim().toLowerCase()
  return COLUMNS.find((column) => column === name)
}

/** The known column that is spelled most like this, or undefined when none is near. */
export function nearestColumn(header: string): Column | undefined {
  return nearest(header.trim().toLowerCase(), COLUMNS)
}
