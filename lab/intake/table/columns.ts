// The columns that a table of runs may have. docs/guide/csv.md says what each means.

/** As the plain layout writes them. */
export const COLUMNS = [
  'part', 'sample', 'picked', 'origin', 'batch', 'slot', 'tune', 'rig', 'start', 'how', 'time', 'firmware', 'system', 'ambient', 'workload', 'group', 'measure',
  'unit', 'direction', 'value', 'outcome', 'phase', 'place', 'order', 'seconds', 'known', 'note',
] as const
export type Column = (typeof COLUMNS)[number]

/** What a column of any layout may be: `measure` holds values named by its header, `measure name` the name of what stands in `value`. */
export const ROLES = [
  'part', 'sample', 'picked', 'origin', 'batch', 'slot', 'tune', 'rig', 'start', 'how', 'time', 'date', 'clock', 'firmware', 'system', 'ambient', 'workload', 'group', 'measure name',
  'unit', 'direction', 'value', 'measure', 'outcome', 'phase', 'place', 'order', 'repeat', 'seconds', 'known', 'note', 'left out',
] as const
export type Role = (typeof ROLES)[number]

const ROLE_SET: ReadonlySet<string> = new Set(ROLES)

export function isRole(text: string): text is Role {
  return ROLE_SET.has(text)
}
