// A safe copy of an open workspace: whole or not there, on disk, proved by opening it and comparing its content digest.
import path from 'node:path'
import { SpokenError } from '@guardband/model'
import Database from 'better-sqlite3'
import { checkLab } from '../check.ts'
import { momentNow, type LabCore } from '../lab-core.ts'
import type { CheckFinding } from '../lab.ts'
import { syncFolder } from '../files.ts'
import { createChangeLog } from '../store/change-log.ts'
import { DATABASE_FILE } from '../store/database.ts'
import { createRecordStore } from '../store/record-store.ts'
import { beginWholeFolder, spokenFolderError } from '../whole-folder.ts'
import { copyDatabase, requireSame } from './copy-database.ts'
import { filesThere, filesToMove } from './files-to-move.ts'
import { FILE_FOLDERS } from './format.ts'
import { readFirst, writeHashed } from './hashed-copy.ts'
import { openReader } from './lab-reader.ts'
import { existsSync, mkdirSync } from 'node:fs'

export interface BackupMade {
  readonly folder: string
  readonly at: string
  readonly digest: string
  /** Sequence of the last change in it. */
  readonly head: number
  readonly files: number
  readonly bytes: number
  /** What the check finds in the copy, which it would find in the workspace too. */
  readonly findings: readonly CheckFinding[]
}

/** A workspace folder that can be opened as it is. Never writes over anything. */
export async function backupLab(core: LabCore, target: string): Promise<BackupMade> {
  requireOutside(core.folder, target)
  const before = filesThere(core.folder)
  const reader = openReader(core.folder)
  const at = momentNow(core)
  try {
    const whole = beginWholeFolder(target)
    try {
      await copyDatabase(reader, whole.building, 'keep devices')
      const files = filesToMove(core.folder, before, reader)
      let bytes = 0
      for (const file of files) {
        const copied = await writeHashed(readFirst(file.file, file.bytes), path.join(whole.building, ...file.path.split('/')))
        if (copied.bytes !== file.bytes) throw new SpokenError({ code: 'copy-short', place: file.path, message: `the copy must have ${file.bytes} bytes; it has ${copied.bytes}.`, mend: 'Try once more.' })
        bytes += copied.bytes
      }
      for (const name of FILE_FOLDERS) if (existsSync(path.join(whole.building, name))) syncFolder(path.join(whole.building, name))
      for (const name of ALWAYS) mkdirSync(path.join(whole.building, name), { recursive: true })
      const findings = verify(core, whole.building, reader.digest)
      whole.finish()
      noteBackup(core, at, target)
      return { folder: target, at, digest: reader.digest, head: reader.head, files: files.length, bytes, findings }
    } catch (error) {
      whole.abandon()
      throw spokenFolderError(target, error)
    }
  } finally {
    reader.close()
  }
}

export interface LastBackup {
  readonly at: string
  readonly folder: string
}

export function lastBackup({ db }: Pick<LabCore, 'db'>): LastBackup | null {
  const value = db.prepare<[string], string>('SELECT value FROM meta WHERE key = ?').pluck()
  const at = value.get(AT_KEY)
  return at === undefined ? null : { at, folder: value.get(FOLDER_KEY) ?? '' }
}

/** Beside the workspace, by the minute in UTC: "lab-backups/2026-11-05 0800". */
export function backupFolder(folder: string, at: string): string {
  const minute = at.slice(0, 'yyyy-mm-ddThh:mm'.length).replace('T', ' ').replace(':', '')
  const base = path.join(path.dirname(folder), `${path.basename(folder)}-backups`, minute)
  for (let again = 1; ; again++) {
    const free = again === 1 ? base : `${base}-${again}`
    if (!existsSync(free)) return free
  }
}

const AT_KEY = 'last backup'
const FOLDER_KEY = 'last backup folder'
/** As a new workspace has them. */
const ALWAYS = ['journals', 'reports']

function noteBackup(core: LabCore, at: string, folder: string): void {
  const put = core.db.prepare('INSERT INTO meta (key, value) VALUES (?, ?) ON CONFLICT (key) DO UPDATE SET value = excluded.value')
  core.transact(() => {
    put.run(AT_KEY, at)
    put.run(FOLDER_KEY, folder)
  })
}

/** Reads the copy as a workspace, without writing to it: records against the digest, then the whole check. */
function verify(core: LabCore, folder: string, digest: string): readonly CheckFinding[] {
  const db = new Database(path.join(folder, DATABASE_FILE), { readonly: true, fileMustExist: true })
  try {
    requireSame(db, { digest })
    const store = createRecordStore(db)
    return checkLab({ folder, db, store, log: createChangeLog(db, store, core.sources.now), sources: core.sources, transact: (work) => work() })
  } finally {
    db.close()
  }
}

/** A copy inside the workspace would be a part of the next one, and would go with it. */
function requireOutside(folder: string, target: string): void {
  const way = path.relative(path.resolve(folder), path.resolve(target))
  if (way !== '' && (way.startsWith('..') || path.isAbsolute(way))) return
  throw new SpokenError({ code: 'backup-inside', place: target, message: 'a backup must lie outside the workspace that it is of.', mend: 'Choose another folder, best on another disk.' })
}
