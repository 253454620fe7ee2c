// Writes files so that they are whole or absent: temporary name, fsync, rename, fsync of the folder.
import { closeSync, fsyncSync, mkdirSync, openSync, renameSync, rmSync, writeSync } from 'node:fs'
import path from 'node:path'
import { SpokenError } from '@guardband/model'

export function writeDurably(file: string, content: Uint8Array | string): void {
  const bytes = typeof content === 'string' ? Buffer.from(content, 'utf8') : content
  const folder = path.dirname(file)
  mkdirSync(folder, { recursive: true })
  const temporary = path.join(folder, `${TEMPORARY_PREFIX}${path.basename(file)}.${process.pid}`)
  try {
    const handle = openSync(temporary, 'w', FILE_MODE)
    try {
      let written = 0
      while (written < bytes.length) written += writeSync(handle, bytes, written, bytes.length - written)
      fsyncSync(handle)
    } finally {
      closeSync(handle)
    }
    renameSync(temporary, file)
  } catch (error) {
    rmSync(temporary, { force: true })
    throw spokenFileError(error, file)
  }
  syncFolder(folder)
}

/** Makes a rename or a new file in this folder outlive a power cut. Windows can't open a folder and orders its own log. */
export function syncFolder(folder: string): void {
  if (process.platform === 'win32') return
  const handle = openSync(folder, 'r')
  try {
    fsyncSync(handle)
  } finally {
    closeSync(handle)
  }
}

/** A sentence for what the system answers where a file can't be written; the error itself where it is none of these. */
export function spokenFileError(error: unknown, file: string): unknown {
  const code = (error as NodeJS.ErrnoException).code ?? ''
  const mend = MENDS[code]
  return mend === undefined ? error : new SpokenError({ code: 'file-not-written', place: file, message: `the file could not be written (${code}).`, mend })
}

/** Files that begin so were never finished. */
export const TEMPORARY_PREFIX = '.part-'

const FILE_MODE = 0o644

const MENDS: Readonly<Record<string, string | undefined>> = {
  ENOSPC: 'Make room on the disk and repeat it.',
  EDQUOT: 'Make room in your quota and repeat it.',
  EACCES: 'Check the rights of the folder.',
  EPERM: 'Check the rights of the folder.',
  EROFS: 'The disk is mounted read-only.',
}
