// Reads a workspace as it stood at one moment, while others go on writing: a connection of its own that holds one read transaction.
import path from 'node:path'
import Database from 'better-sqlite3'
import { SpokenError, type Lab, type LabRecord, type RecordKind } from '@guardband/model'
import { EVIDENCE_FOLDER } from '../evidence/evidence-book.ts'
import { JOURNALS_FOLDER } from '../intake/journal/journal-book.ts'
import { REPORTS_FOLDER, snapshotsFile } from '../publish.ts'
import { DATABASE_FILE, type LabDatabase } from '../store/database.ts'
import { parseBody } from '../store/record-store.ts'
import { digestOfBodies } from './content-digest.ts'
import type { ListedFile } from './format.ts'

export interface LabReader {
  readonly db: LabDatabase
  readonly lab: Lab
  /** Of all records at this moment. */
  readonly digest: string
  readonly count: number
  /** Sequence of the last change at this moment. */
  readonly head: number
  /** The stored texts, in the order of their ids. */
  readonly bodies: (kind?: RecordKind) => Iterable<string>
  readonly get: (id: string) => LabRecord | undefined
  /** Files that records name at this moment. */
  readonly files: () => readonly ListedFile[]
  readonly close: () => void
}

export function openReader(folder: string): LabReader {
  const db = new Database(path.join(folder, DATABASE_FILE), { readonly: true, fileMustExist: true })
  try {
    db.exec('BEGIN')
    return reader(db)
  } catch (error) {
    db.close()
    throw error
  }
}

function reader(db: LabDatabase): LabReader {
  const all = db.prepare<[], string>('SELECT body FROM record ORDER BY id').pluck()
  const ofKind = db.prepare<[string], string>('SELECT body FROM record WHERE kind = ? ORDER BY id').pluck()
  const one = db.prepare<[string], string>('SELECT body FROM record WHERE id = ?').pluck()
  const bodies: LabReader['bodies'] = (kind) => (kind === undefined ? all.iterate() : ofKind.iterate(kind))
  // The first read fixes the moment.
  const head = db.prepare<[], number | null>('SELECT max(seq) FROM change').pluck().get() ?? 0
  const [lab] = recordsOf(db, 'lab')
  if (lab === undefined) throw new SpokenError({ code: 'no-lab-record', message: 'the workspace has no record of itself.', mend: 'Run the check on it.' })
  return {
    db,
    lab,
    head,
    digest: digestOfBodies(bodies()),
    count: db.prepare<[], number>('SELECT count(*) FROM record').pluck().get() ?? 0,
    bodies,
    get: (id) => {
      const body = one.get(id)
      return body === undefined ? undefined : parseBody(body)
    },
    files: () => namedFiles(db),
    close: () => db.close(),
  }
}

/** Files that the records of a workspace name. */
export function namedFiles(db: LabDatabase): readonly ListedFile[] {
  return [
    ...unique(recordsOf(db, 'evidence').flatMap((evidence) => [
      { path: `${EVIDENCE_FOLDER}/${evidence.sha256}`, bytes: evidence.bytes, name: evidence.name },
      ...(evidence.thumbnail === undefined ? [] : [{ path: `${EVIDENCE_FOLDER}/${evidence.thumbnail}`, bytes: null, name: `small picture of ${evidence.name}` }]),
    ])),
    ...recordsOf(db, 'report').flatMap((report) => [report.file, snapshotsFile(report)].map((file) => ({ path: `${REPORTS_FOLDER}/${file}`, bytes: null, name: `report ${report.number}: ${report.title}` }))),
    ...db
      .prepare<[], { file: string; length: number }>('SELECT file, length FROM journal ORDER BY id')
      .all()
      .map(({ file, length }) => ({ path: `${JOURNALS_FOLDER}/${file}`, bytes: length, name: 'journal' })),
  ]
}

function recordsOf<Kind extends RecordKind>(db: LabDatabase, kind: Kind): readonly Extract<LabRecord, { kind: Kind }>[] {
  const bodies = db.prepare<[string], string>('SELECT body FROM record WHERE kind = ? ORDER BY id').pluck().all(kind)
  // The table's kind column is written from the record itself.
  return bodies.map((body) => parseBody(body) as Extract<LabRecord, { kind: Kind }>)
}

/** Two records may name one file. */
function unique(files: readonly ListedFile[]): readonly ListedFile[] {
  return [...new Map(files.map((file) => [file.path, file])).values()]
}
