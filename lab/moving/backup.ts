// A safe copy of an open workspace: whole or not there, on disk, proved by opening it and comparing its content digest.
import path from 'node:path'
import { SpokenError } from '@guardband/model'
import Database from 'better-sqlite3'
import { checkContents, checkLab, type CheckedLab } from '../check.ts'
import type { LabCore } from '../lab-core.ts'
import type { CheckFinding } from '../lab.ts'
import { syncFolder } from '../files.ts'
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
export async function backupFolderTo({ folder, target, at }: { readonly folder: string; readonly target: string; readonly at: string }): Promise<BackupMade> {
  requireOutside(folder, target)
  const before = filesThere(folder)
  const reader = openReader(folder)
  try {
    const whole = beginWholeFolder(target)
    try {
      await copyDatabase(reader, whole.building, 'keep devices')
      const files = filesToMove(folder, before, reader)
      let bytes = 0
      for (const file of files) {
        const copied = await writeHashed(readFirst(file.file, file.bytes), path.join(whole.building, ...file.path.split('/')))
        if (copied.bytes !== file.bytes) throw new SpokenError({ code: 'copy-short', place: file.path, message: `the copy must have ${file.bytes} bytes; it has ${copied.bytes}.`, mend: 'Try once more.' })
        bytes += copied.bytes
      }
      for (const name of FILE_FOLDERS) if (existsSync(path.join(whole.building, name))) syncFolder(path.join(whole.building, name))
      for (const name of ALWAYS) mkdirSync(path.join(whole.building, name), { recursive: true })
      const findings = readOnly(whole.building, (core) => {
        requireSame(core.db, reader)
        return checkContents(core)
      })
      whole.finish()
      return { folder: target, at, digest: reader.digest, head: reader.head, files: files.length, bytes, findings }
    } catch (error) {
      whole.abandon()
      throw spokenFolderError(target, error)
    }
  } finally {
    reader.close()
  }
}

/** The check of a workspace that others may have open, without writing to it. */
export function checkFolder(folder: string): readonly CheckFinding[] {
  return readOnly(folder, checkLab)
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

/** The workspace knows of it from then on. */
export function noteBackup(core: Pick<LabCore, 'db' | 'transact'>, { at, folder }: LastBackup): void {
  const put = core.db.prepare('INSERT INTO meta (key, value) VALUES (?, ?) ON CONFLICT (key) DO UPDATE SET value = excluded.value')
  core.transact(() => {
    put.run(AT_KEY, at)
    put.run(FOLDER_KEY, folder)
  })
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

function readOnly<Result>(folder: string, work: (core: CheckedLab) => Result): Result {
  const db = new Database(path.join(folder, DATABASE_FILE), { readonly: true, fileMustExist: true })
  try {
    return work({ folder, db, store: createRecordStore(db) })
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
