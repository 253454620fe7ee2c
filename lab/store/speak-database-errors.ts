// Turns what SQLite refuses for reasons outside the program (disk, locks, rights, damage) into sentences. Nothing of the change was written then.
import Database from 'better-sqlite3'
import { SpokenError } from '@guardband/model'

export function speakDatabaseErrors<Result>(folder: string, work: () => Result): Result {
  try {
    return work()
  } catch (error) {
    throw spokenDatabaseError(folder, error)
  }
}

/** The error itself where it is none of these. */
export function spokenDatabaseError(folder: string, error: unknown): unknown {
  if (!(error instanceof Database.SqliteError)) return error
  const known = SENTENCES.find(({ codes }) => codes.some((code) => error.code.startsWith(code)))
  return known === undefined ? error : new SpokenError({ code: known.code, place: folder, message: known.message, mend: known.mend })
}

/** What a damaged database leaves one to do. */
export const DAMAGE_MEND = 'Restore a copy of the workspace, or rebuild it: make a new one and take in the journals/ folder and the CSV files again.'

/** Primary result codes (sqlite.org/rescode.html); extended ones begin with them. */
const SENTENCES: readonly { readonly codes: readonly string[]; readonly code: string; readonly message: string; readonly mend: string }[] = [
  { codes: ['SQLITE_FULL'], code: 'disk-full', message: 'the disk is full; nothing of this change was written.', mend: 'Make room and repeat it.' },
  { codes: ['SQLITE_BUSY', 'SQLITE_LOCKED'], code: 'lab-busy', message: 'another program kept the workspace locked; nothing of this change was written.', mend: 'Repeat it when the other program is done.' },
  { codes: ['SQLITE_READONLY', 'SQLITE_PERM', 'SQLITE_CANTOPEN'], code: 'lab-read-only', message: 'the workspace can not be written to.', mend: 'Check the rights of the folder and its files.' },
  { codes: ['SQLITE_IOERR'], code: 'disk-fault', message: 'the disk reported a fault; nothing of this change was written.', mend: 'Copy the folder to another disk and run the check there.' },
  { codes: ['SQLITE_CORRUPT', 'SQLITE_NOTADB'], code: 'lab-damaged', message: 'lab.db is damaged.', mend: DAMAGE_MEND },
]
