// A consistent copy of a database that others may be writing to, and proof that the copy is sound and holds the same records.
import { closeSync, fsyncSync, openSync } from 'node:fs'
import path from 'node:path'
import Database from 'better-sqlite3'
import { SpokenError } from '@guardband/model'
import { DATABASE_FILE } from '../store/database.ts'
import { DAMAGE_MEND } from '../store/speak-database-errors.ts'
import { digestOfBodies } from './content-digest.ts'
import type { LabReader } from './lab-reader.ts'

/** Copies what the reader sees, piece by piece. On disk when it resolves; whether it is the same, `requireSame` says. */
export async function copyDatabase(reader: Pick<LabReader, 'db'>, folder: string, devices: 'keep devices' | 'leave devices out'): Promise<void> {
  const file = path.join(folder, DATABASE_FILE)
  // The reader's own transaction is the moment that is copied: SQLite reads the pages of a backup through it.
  await reader.db.backup(file)
  const copy = new Database(file, { fileMustExist: true })
  try {
    // One file that is whole by itself; opening it as a workspace turns the log on again.
    copy.pragma('journal_mode = DELETE')
    if (devices === 'leave devices out') copy.exec('DELETE FROM device')
  } finally {
    copy.close()
  }
  syncFile(file)
}

/** Throws a sentence when the database is damaged or holds other records than it should. */
export function requireSame(db: Database.Database, wanted: { readonly digest: string }): void {
  const integrity = db.pragma('integrity_check', { simple: true })
  if (integrity !== 'ok') throw new SpokenError({ code: 'lab-damaged', message: 'lab.db is damaged; a copy of it would be too.', mend: DAMAGE_MEND })
  const digest = digestOfBodies(db.prepare<[], string>('SELECT body FROM record ORDER BY id').pluck().iterate())
  if (digest !== wanted.digest) throw new SpokenError({ code: 'copy-differs', message: `the copy must have the content digest ${wanted.digest}; it has ${digest}.`, mend: 'Try once more; if it stays, run the check.' })
}

export function syncFile(file: string): void {
  const handle = openSync(file, 'r+')
  try {
    fsyncSync(handle)
  } finally {
    closeSync(handle)
  }
}
