// The columns that a table of runs may have. docs/guide/csv.md says what each means.
import type { TableRole } from '@guardband/model'

/** As the plain layout writes them. */
export const COLUMNS = [
  'part', 'sample', 'picked', 'origin', 'batch', 'slot', 'tune', 'rig', 'start', 'how', 'time', 'firmware', 'system', 'ambient', 'workload', 'group', 'measure',
  'unit', 'direction', 'value', 'outcome', 'phase', 'place', 'order', 'seconds', 'known', 'note',
] as const
export type Column = (typeof COLUMNS)[number]

export type Role = TableRole
