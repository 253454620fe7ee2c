// The journals that a workspace keeps: where their bytes lie, and what is known of each.
import { readFileSync } from 'node:fs'
import path from 'node:path'
import { decodeJournal, sha256Hex, type JournalBody, type JournalBodyOf, type JournalEntry } from '@guardband/model'
import { writeDurably } from '../../files.ts'
import type { LabCore } from '../../lab-core.ts'

export const JOURNALS_FOLDER = 'journals'

export interface JournalRow {
  readonly id: string
  readonly file: string
  readonly digest: string
  readonly length: number
  readonly last_hash: string
  readonly previous: string | null
  readonly rig_id: string | null
  readonly change: number | null
  /** The device that handed it over in pieces; null where a person did. */
  readonly device: string | null
}

export interface JournalBook {
  readonly row: (id: string) => JournalRow | undefined
  readonly rows: () => readonly JournalRow[]
  /** Ids of other journals that name the same one before: a fork of the rig's chain. */
  readonly siblings: (id: string, previous: string | null) => readonly string[]
  /** Where a rig's chain of journals forks: ids that name one and the same before, by rig. */
  readonly forks: (rigId: string) => readonly string[]
  readonly keep: (id: string, bytes: Uint8Array) => string
  readonly put: (row: JournalRow) => void
  /** A kept journal's records and its digest; none when its file is gone. */
  readonly kept: (id: string) => { readonly entries: readonly JournalEntry[]; readonly digest: string }
  /** As kept; none where it is not. */
  readonly bytes: (id: string) => Uint8Array
  readonly resolved: (runId: string) => JournalBodyOf<'resolved'> | undefined
  readonly addResolved: (journal: string, body: JournalBodyOf<'resolved'>) => void
}

export function createJournalBook({ db, folder }: Pick<LabCore, 'db' | 'folder'>): JournalBook {
  const file = (id: string): string => path.join(folder, JOURNALS_FOLDER, `${id}.journal`)
  return {
    row: (id) => db.prepare<[string], JournalRow>('SELECT * FROM journal WHERE id = ?').get(id),
    rows: () => db.prepare<[], JournalRow>('SELECT * FROM journal').all(),
    siblings: (id, previous) =>
      previous === null ? [] : db.prepare<[string, string], { id: string }>('SELECT id FROM journal WHERE previous = ? AND id <> ? ORDER BY id').all(previous, id).map((row) => row.id),
    forks: (rigId) =>
      db
        .prepare<[string], { previous: string; ids: string }>(
          `SELECT previous, group_concat(id, ' ') AS ids FROM (SELECT previous, id FROM journal WHERE previous IN (SELECT previous FROM journal WHERE rig_id = ?) ORDER BY id) GROUP BY previous HAVING count(*) > 1 ORDER BY previous`,
        )
        .all(rigId)
        .map(({ previous, ids }) => forkSentence(ids.split(' '), previous)),
    keep: (id, bytes) => {
      writeDurably(file(id), bytes)
      return `${id}.journal`
    },
    put: (row) => {
      db.prepare(
        `INSERT OR REPLACE INTO journal (id, file, digest, length, last_hash, previous, rig_id, change, device) VALUES (@id, @file, @digest, @length, @last_hash, @previous, @rig_id, @change, @device)`,
      ).run(row)
    },
    bytes: (id) => {
      try {
        return readFileSync(file(id))
      } catch {
        return new Uint8Array()
      }
    },
    kept: (id) => {
      try {
        const bytes = readFileSync(file(id))
        return { entries: decodeJournal(bytes).entries, digest: sha256Hex(bytes) }
      } catch {
        return { entries: [], digest: '' }
      }
    },
    resolved: (runId) => {
      const row = db.prepare<[string], { body: string }>('SELECT body FROM journal_resolved WHERE run_id = ?').get(runId)
      // Written from a decoded record only.
      return row === undefined ? undefined : (JSON.parse(row.body) as JournalBodyOf<'resolved'>)
    },
    addResolved: (journal, body) => {
      db.prepare('INSERT OR IGNORE INTO journal_resolved (run_id, journal, body) VALUES (?, ?, ?)').run(body.runId, journal, JSON.stringify(body))
    },
  }
}

/** Rule 5: a restored or copied rig shows so. */
export function forkSentence(ids: readonly string[], previous: string): string {
  return `Journals ${ids.slice(0, -1).join(', ')} and ${ids[ids.length - 1]} ${ids.length === 2 ? 'both' : 'all'} follow ${previous}: the rig was copied, or restored from a copy.`
}

/** The bodies of one type, in order. */
export function bodiesOf<Type extends JournalBody['type']>(entries: readonly JournalEntry[], type: Type): readonly JournalBodyOf<Type>[] {
  return entries.flatMap(({ body }) => (body.type === type ? [body as JournalBodyOf<Type>] : []))
}
