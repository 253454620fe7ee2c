// Neighbouring runs that share start, sample and what was in force, so that these are said once.
import type { RunRow } from '@guardband/model/api'

type Shared = Pick<RunRow, 'startId' | 'startLabel' | 'rig' | 'sample' | 'tune' | 'asked' | 'known'>

export interface RunGroup extends Shared {
  /** At least one. */
  readonly rows: readonly [RunRow, ...RunRow[]]
}

/** Keeps the order of the rows: a start that comes up again further down stands there again. */
export function runGroups(rows: readonly RunRow[]): readonly RunGroup[] {
  const groups: [RunRow, ...RunRow[]][] = []
  for (const row of rows) {
    const last = groups.at(-1)
    if (last !== undefined && SHARED.every((key) => last[0][key] === row[key])) last.push(row)
    else groups.push([row])
  }
  return groups.map((members) => {
    const [{ startId, startLabel, rig, sample, tune, asked, known }] = members
    return { startId, startLabel, rig, sample, tune, asked, known, rows: members }
  })
}

const SHARED: readonly (keyof Shared)[] = ['startId', 'sample', 'tune', 'asked', 'known', 'rig', 'startLabel']
