// Records by id and kind, as canonical JSON in one table. Every write comes from the change log.
import type { Statement } from 'better-sqlite3'
import { canonicalJson, type InForce, type LabRecord, type RecordKind, type RecordOf, type Run } from '@guardband/model'
import { digestOfBodies } from '../moving/content-digest.ts'
import type { LabDatabase } from './database.ts'

export interface RecordStore {
  readonly get: (id: string) => LabRecord | undefined
  readonly kindOf: (id: string) => RecordKind | undefined
  /** In the order of their ids, which is the order in which they were made. */
  readonly list: <Kind extends RecordKind>(kind: Kind) => readonly RecordOf<Kind>[]
  /** What was in force in a start, then its runs, each in the order of their ids. */
  readonly ofStart: (startId: string) => readonly (InForce | Run)[]
  /** The stored text, as it stands. */
  readonly body: (id: string) => string | undefined
  readonly put: (record: LabRecord, rev: number) => void
  /** Adds records that were not there, in rows that follow each other; throws SQLite's own error, and adds none, where one was. Returns the first row. */
  readonly add: (records: readonly LabRecord[], rev: number) => number
  readonly remove: (id: string) => void
  /** One digest over all records, whatever their order. */
  readonly digest: () => string
}

export function createRecordStore(db: LabDatabase): RecordStore {
  const one = db.prepare<[string], { body: string }>('SELECT body FROM record WHERE id = ?')
  const kind = db.prepare<[string], { kind: RecordKind }>('SELECT kind FROM record WHERE id = ?')
  const ofKind = db.prepare<[string], { body: string }>('SELECT body FROM record WHERE kind = ? ORDER BY id')
  const atStart = db.prepare<[string], { body: string }>(`SELECT body FROM record INDEXED BY record_by_start WHERE kind IN ('in force', 'run') AND start_id = ? ORDER BY kind, id`)
  const all = db.prepare<[], string>('SELECT body FROM record ORDER BY id').pluck()
  const upsert = db.prepare('INSERT INTO record (id, kind, body, rev) VALUES (?, ?, ?, ?) ON CONFLICT (id) DO UPDATE SET body = excluded.body, rev = excluded.rev')
  const inserts = new Map<number, Statement>()
  /** Many rows in one statement cost a fifth less than one by one. */
  const insertOf = (count: number): Statement => {
    const statement = inserts.get(count) ?? db.prepare(`INSERT INTO record (id, kind, body, rev) VALUES ${Array.from({ length: count }, () => '(?, ?, ?, ?)').join(', ')}`)
    inserts.set(count, statement)
    return statement
  }
  const drop = db.prepare('DELETE FROM record WHERE id = ?')
  return {
    get: (id) => {
      const row = one.get(id)
      return row === undefined ? undefined : parseBody(row.body)
    },
    kindOf: (id) => kind.get(id)?.kind,
    list: <Kind extends RecordKind>(wanted: Kind) =>
      // The table's kind column is written from the record itself.
      ofKind.all(wanted).map(({ body }) => parseBody(body) as RecordOf<Kind>),
    // Only these two kinds are asked for.
    ofStart: (startId) => atStart.all(startId).map(({ body }) => parseBody(body) as InForce | Run),
    body: (id) => one.get(id)?.body,
    put: (record, rev) => {
      upsert.run(record.id, record.kind, canonicalJson(record), rev)
    },
    add: (records, rev) => {
      const values: (string | number)[] = []
      for (const record of records) values.push(record.id, record.kind, canonicalJson(record), rev)
      return Number(insertOf(records.length).run(values).lastInsertRowid) - records.length + 1
    },
    remove: (id) => {
      drop.run(id)
    },
    digest: () => digestOfBodies(all.iterate()),
  }
}

/** A stored body as a record: it was checked against its schema when it was written, and `check` looks at every one again. */
export function parseBody(body: string): LabRecord {
  return JSON.parse(body) as LabRecord
}
