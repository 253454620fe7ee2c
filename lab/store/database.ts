// Opens lab.db so that what was acknowledged is on disk, brings an older format up to date, and never touches a newer one.
import { closeSync, existsSync, openSync, readSync } from 'node:fs'
import path from 'node:path'
import Database from 'better-sqlite3'
import { SpokenError } from '@guardband/model'
import { CURRENT_FORMAT, MIGRATIONS } from './migrations.ts'

export type LabDatabase = Database.Database

export const DATABASE_FILE = 'lab.db'

/** Marks a file as a workspace's database in its header (SQLite's application_id): "GBLB". */
export const APPLICATION_ID = 0x47424c42

/** Opens the database of a workspace and migrates it. `create` makes a new one. */
export function openDatabase(folder: string, mode: 'create' | 'existing'): LabDatabase {
  const file = path.join(folder, DATABASE_FILE)
  if (mode === 'existing') refuseNewer(file, folder)
  const db = new Database(file, { fileMustExist: mode === 'existing', timeout: BUSY_MILLISECONDS })
  try {
    db.pragma('journal_mode = WAL')
    db.pragma('synchronous = FULL')
    db.pragma('foreign_keys = ON')
    migrate(db, folder, CURRENT_FORMAT)
    // better-sqlite3 is built so that WAL alone drops to synchronous = NORMAL at the first write: write, then look.
    db.prepare(`INSERT INTO meta (key, value) VALUES ('openings', '1') ON CONFLICT (key) DO UPDATE SET value = CAST(value AS INTEGER) + 1`).run()
    requireDurable(db, folder)
    return db
  } catch (error) {
    db.close()
    throw error
  }
}

/** Refuses a connection whose commits would not reach the disk. Meaningful after a first write only. */
export function requireDurable(db: LabDatabase, folder: string): void {
  const synchronous = db.pragma('synchronous', { simple: true })
  const journalMode = db.pragma('journal_mode', { simple: true })
  if (synchronous === SYNCHRONOUS_FULL && journalMode === 'wal') return
  throw new SpokenError({
    code: 'not-durable',
    place: folder,
    message: `the database must sync every commit in WAL mode; got synchronous ${String(synchronous)}, journal mode ${String(journalMode)}.`,
    mend: 'Keep the workspace on a local disk, not on a network share.',
  })
}

/** Runs the steps that are missing up to format `to`, each in a transaction of its own. */
export function migrate(db: LabDatabase, folder: string, to: number): void {
  if (formatOf(db) >= to) return
  for (const step of MIGRATIONS) {
    db.transaction(() => {
      // Looked at inside the transaction: another process may have taken this step meanwhile.
      if (formatOf(db) >= step.to || step.to > to) return
      step.run(db, { folder })
      if (step.to === 1) db.pragma(`application_id = ${APPLICATION_ID}`)
      db.prepare(`INSERT INTO meta (key, value) VALUES ('format', ?) ON CONFLICT (key) DO UPDATE SET value = excluded.value`).run(String(step.to))
      // The header's copy of the number can be read without opening the database.
      db.pragma(`user_version = ${step.to}`)
    }).immediate()
  }
  db.pragma('wal_checkpoint(TRUNCATE)')
}

/** The format of an open database; 0 when it holds nothing yet. */
export function formatOf(db: LabDatabase): number {
  const meta = db.prepare(`SELECT 1 FROM sqlite_master WHERE type = 'table' AND name = 'meta'`).get()
  if (meta === undefined) return 0
  const row = db.prepare<[], { value: string }>(`SELECT value FROM meta WHERE key = 'format'`).get()
  return row === undefined ? 0 : Number(row.value)
}

/** What the file's first bytes say, without opening it: null when it is no workspace's database. */
export function readHeader(file: string): { readonly format: number } | null {
  const header = Buffer.alloc(HEADER_LENGTH)
  const handle = openSync(file, 'r')
  try {
    if (readSync(handle, header, 0, HEADER_LENGTH, 0) < HEADER_LENGTH) return null
  } finally {
    closeSync(handle)
  }
  if (header.toString('latin1', 0, SQLITE_MAGIC.length) !== SQLITE_MAGIC) return null
  if (header.readUInt32BE(APPLICATION_ID_OFFSET) !== APPLICATION_ID) return null
  return { format: header.readUInt32BE(USER_VERSION_OFFSET) }
}

/** Long enough for another process to finish a large intake. */
const BUSY_MILLISECONDS = 30_000
const SYNCHRONOUS_FULL = 2

// SQLite file format, section 1.3 "The Database Header": text at 0, user version at 60, application id at 68.
const HEADER_LENGTH = 100
const SQLITE_MAGIC = 'SQLite format 3\0'
const USER_VERSION_OFFSET = 60
const APPLICATION_ID_OFFSET = 68

function refuseNewer(file: string, folder: string): void {
  const header = readHeader(file)
  if (header === null) {
    throw new SpokenError({ code: 'no-lab', place: folder, message: `${DATABASE_FILE} is not the database of a workspace.`, mend: 'Choose the folder of a workspace, or an empty one.' })
  }
  if (header.format > CURRENT_FORMAT) throw newer(folder, header.format)
  // A newer program may have been stopped before its log reached the main file; a reader that can't write sees it.
  if (!existsSync(`${file}-wal`)) return
  const reader = new Database(file, { readonly: true, fileMustExist: true, timeout: BUSY_MILLISECONDS })
  try {
    const format = formatOf(reader)
    if (format > CURRENT_FORMAT) throw newer(folder, format)
  } finally {
    reader.close()
  }
}

function newer(folder: string, format: number): SpokenError {
  return new SpokenError({
    code: 'newer-lab',
    place: folder,
    message: `this workspace is in format ${format}; this program knows formats up to ${CURRENT_FORMAT}. Nothing in it was changed.`,
    mend: 'Open it with the newer program that wrote it.',
  })
}
