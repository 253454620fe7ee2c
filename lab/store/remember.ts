// Keeps what was computed from the records until a change makes it untrue, also one made by another process.
import type { RecordKind } from '@guardband/model'
import type { LabDatabase } from './database.ts'

export interface Memory {
  /** Until the next change of any kind. */
  readonly untilChange: <Value>(make: () => Value) => () => Value
  /** Until a record of one of these kinds is made, changed or taken out. */
  readonly untilKinds: <Value>(kinds: readonly RecordKind[], make: () => Value) => () => Value
}

export function createMemory(db: LabDatabase, head: () => number): Memory {
  const touched = db.prepare<[number, number, string]>('SELECT 1 FROM change_item WHERE seq > ? AND seq <= ? AND kind IN (SELECT value FROM json_each(?)) LIMIT 1')
  const keep = <Value>(make: () => Value, isStale: (from: number, to: number) => boolean): (() => Value) => {
    let kept: { readonly head: number; readonly value: Value } | undefined
    return () => {
      const now = head()
      if (kept === undefined || (kept.head !== now && (kept.head > now || isStale(kept.head, now)))) kept = { head: now, value: make() }
      else if (kept.head !== now) kept = { head: now, value: kept.value }
      return kept.value
    }
  }
  return {
    untilChange: (make) => keep(make, () => true),
    untilKinds: (kinds, make) => {
      const list = JSON.stringify(kinds)
      return keep(make, (from, to) => touched.get(from, to, list) !== undefined)
    },
  }
}
