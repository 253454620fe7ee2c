// Snapshots of questions as the records are now, kept until a change could have touched them.
import { snapshotDigest, type RecordKind, type Snapshot } from '@guardband/model'
import { questionRecord, type LabCore } from '../lab-core.ts'
import { gainSnapshot } from './gain.ts'

export interface SnapshotOfQuestion {
  readonly snapshot: Snapshot
  readonly digest: string
}

export interface SnapshotBook {
  readonly of: (questionId: string) => SnapshotOfQuestion
}

export function createSnapshotBook(core: LabCore): SnapshotBook {
  const kept = new Map<string, { readonly head: number } & SnapshotOfQuestion>()
  const touching = core.db.prepare<[number, string], { one: number }>(
    `SELECT 1 AS one FROM change_item WHERE seq > ? AND kind NOT IN (${UNREAD_KINDS.map((kind) => `'${kind}'`).join(', ')}) AND NOT (kind = 'question' AND id <> ?) LIMIT 1`,
  )
  return {
    of: (questionId) => {
      const head = core.log.head()
      const last = kept.get(questionId)
      if (last !== undefined && (last.head === head || touching.get(last.head, questionId) === undefined)) {
        if (last.head !== head) kept.set(questionId, { ...last, head })
        return last
      }
      const snapshot = gainSnapshot(core, questionRecord(core, questionId))
      const made = { snapshot, digest: snapshotDigest(snapshot) }
      kept.delete(questionId)
      kept.set(questionId, { head, ...made })
      // The map keeps the order of insertion: the first is the one made longest ago.
      const oldest = kept.keys().next().value
      if (kept.size > MOST_KEPT && oldest !== undefined) kept.delete(oldest)
      return made
    },
  }
}

/** No snapshot reads these, so they make none anew. */
const UNREAD_KINDS: readonly RecordKind[] = ['report', 'campaign', 'grade', 'bin', 'ceiling', 'dose', 'evidence', 'layout', 'setting kind', 'sheet']
/** A snapshot of 10,000 runs takes a few megabytes. */
const MOST_KEPT = 50
