// Answers by the digest of the snapshot they were computed from. A cached answer never goes wrong; it only stops being the one asked for, or the one
// that the program would give today.
import { canonicalJson, type Answer } from '@guardband/model'
import { revisions } from '@guardband/questions/by-kind'
import { momentNow, type LabCore } from '../lab-core.ts'

export interface AnswerCache {
  readonly get: (digest: string) => Answer | undefined
  /** The last one computed for this question, of whatever snapshot. */
  readonly latest: (questionId: string) => Answer | undefined
  readonly put: (answer: Answer) => void
}

export function createAnswerCache(core: LabCore): AnswerCache {
  const one = core.db.prepare<[string], { answer: string }>('SELECT answer FROM answer_cache WHERE digest = ?')
  const last = core.db.prepare<[string], { answer: string }>('SELECT answer FROM answer_cache WHERE question_id = ? ORDER BY at DESC, rowid DESC LIMIT 1')
  const insert = core.db.prepare('INSERT OR REPLACE INTO answer_cache (digest, kind, answer, at) VALUES (?, ?, ?, ?)')
  return {
    get: (digest) => {
      const kept = parse(one.get(digest))
      return kept !== undefined && kept.revision === revisions[kept.kind] ? kept : undefined
    },
    latest: (questionId) => parse(last.get(questionId)),
    put: (answer) => {
      insert.run(answer.snapshotDigest, answer.kind, canonicalJson(answer), momentNow(core))
    },
  }
}

/** Checked against its schema before it was put in. */
function parse(row: { readonly answer: string } | undefined): Answer | undefined {
  return row === undefined ? undefined : (JSON.parse(row.answer) as Answer)
}
