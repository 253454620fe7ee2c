// Tunes in the order of a tree: each below what it stands on, with its depth.
import type { TuneListRow } from '@guardband/model/api/tunes'

export interface TreeRow {
  readonly row: TuneListRow
  readonly depth: number
  /** Shown only because something below it was found. */
  readonly context: boolean
}

/** Every word of `find` stands in name, base or changes. Bases of what is found stay, so that the tree holds together; a ring or a lost base begins a tree of its own. */
export function treeOf(rows: readonly TuneListRow[], find: string): readonly TreeRow[] {
  const words = find.toLowerCase().split(/\s+/).filter((word) => word !== '')
  const ids = new Set(rows.map(({ id }) => id))
  const children = Map.groupBy(rows, ({ baseId }) => (baseId !== null && ids.has(baseId) ? baseId : null))
  const seen = new Set<string>()
  const out: TreeRow[] = []
  const visit = (row: TuneListRow, depth: number): boolean => {
    if (seen.has(row.id)) return false
    seen.add(row.id)
    const hit = words.every((word) => `${row.name} ${row.baseName ?? ''} ${row.words}`.toLowerCase().includes(word))
    const place = out.length
    let below = false
    for (const child of children.get(row.id) ?? []) below = visit(child, depth + 1) || below
    if (hit || below) out.splice(place, 0, { row, depth, context: !hit })
    return hit || below
  }
  for (const row of children.get(null) ?? []) visit(row, 0)
  for (const row of rows) visit(row, 0)
  return out
}
