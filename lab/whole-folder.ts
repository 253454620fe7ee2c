// Makes a folder whole or not at all: it is built under another name beside its place and renamed when all of it is on disk.
import { lstatSync, mkdirSync, mkdtempSync, readdirSync, renameSync, rmdirSync, rmSync } from 'node:fs'
import path from 'node:path'
import { SpokenError } from '@guardband/model'
import { syncFolder } from './files.ts'
import { DATABASE_FILE, readHeader } from './store/database.ts'

export interface WholeFolder {
  /** Where it is built until it is whole. */
  readonly building: string
  /** Moves it to its place. Everything in it must have been synced. */
  readonly finish: () => void
  readonly abandon: () => void
}

/** Throws a sentence when the place is taken or can't be written to. */
export function beginWholeFolder(folder: string): WholeFolder {
  const target = path.resolve(folder)
  const there = requireFree(target)
  const parent = path.dirname(target)
  return speakFolderErrors(target, () => {
    mkdirSync(parent, { recursive: true })
    const building = mkdtempSync(path.join(parent, `.${path.basename(target)}.new-`))
    return {
      building,
      finish: () =>
        speakFolderErrors(target, () => {
          syncFolder(building)
          if (there === 'empty folder') rmdirSync(target)
          renameSync(building, target)
          syncFolder(parent)
        }),
      abandon: () => rmSync(building, { recursive: true, force: true }),
    }
  })
}

/** Turns what the system answers where a folder can't be made into a sentence. */
export function speakFolderErrors<Result>(folder: string, work: () => Result): Result {
  try {
    return work()
  } catch (error) {
    throw spokenFolderError(folder, error)
  }
}

/** The error itself where it is none of these. */
export function spokenFolderError(folder: string, error: unknown): unknown {
  if (error instanceof SpokenError || !(error instanceof Error && 'code' in error)) return error
  const why = UNWRITABLE[String(error.code)]
  if (why === undefined) return error
  return new SpokenError({ code: 'folder-unwritable', place: folder, message: `the folder can not be made: ${why}.`, mend: 'Choose a folder that you may write to, on a local disk with room.' })
}

/** What systems answer (errno, POSIX.1) where a folder can't be made. */
const UNWRITABLE: Readonly<Record<string, string | undefined>> = {
  EACCES: 'you have no right to write there', EPERM: 'you have no right to write there', EROFS: 'the disk is read-only', ENOSPC: 'the disk is full', EDQUOT: 'your share of the disk is full',
  ENOTDIR: 'a file stands where a folder would have to be', EEXIST: 'a file stands where a folder would have to be', ENOENT: 'the system makes no folders there', ENAMETOOLONG: 'the name is too long',
}

function requireFree(target: string): 'nothing' | 'empty folder' {
  const state = speakFolderErrors(target, () => lstatSync(target, { throwIfNoEntry: false }))
  if (state === undefined) return 'nothing'
  if (!state.isDirectory()) {
    throw new SpokenError({ code: 'folder-taken', place: target, message: state.isSymbolicLink() ? 'a link stands in the place of this folder.' : 'a file stands in the place of this folder.', mend: 'Choose an empty folder, or one that does not exist yet.' })
  }
  if (speakFolderErrors(target, () => readdirSync(target)).length === 0) return 'empty folder'
  const lab = holdsLab(target)
  throw new SpokenError({
    code: lab ? 'lab-exists' : 'folder-not-empty',
    place: target,
    message: lab ? 'there is a workspace in this folder already.' : 'this folder holds other files.',
    mend: lab ? 'Open it, or choose another folder.' : 'Choose an empty folder, or one that does not exist yet.',
  })
}

function holdsLab(folder: string): boolean {
  try {
    return readHeader(path.join(folder, DATABASE_FILE)) !== null
  } catch {
    return false
  }
}
