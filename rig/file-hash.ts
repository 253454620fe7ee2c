// SHA-256 of files, remembered while a file is untouched: a big program is not read again before every run.
import { createHash } from 'node:crypto'
import { closeSync, fstatSync, openSync, readSync } from 'node:fs'

export type FileHasher = (path: string) => string

/**
 * Remembers by device, file number, size, and both change times in nanoseconds. The inode's change time can't be set back by a program, so a file
 * swapped for one of equal size and date is read again.
 */
export function createFileHasher(): FileHasher {
  const known = new Map<string, string>()
  return (path) => {
    const file = openSync(path, 'r')
    try {
      const { dev, ino, size, mtimeNs, ctimeNs } = fstatSync(file, { bigint: true })
      const mark = [path, dev, ino, size, mtimeNs, ctimeNs].join(' ')
      const hash = known.get(mark) ?? hashFile(file)
      known.set(mark, hash)
      return hash
    } finally {
      closeSync(file)
    }
  }
}

/** Read in parts of this size. */
const PART = 1024 * 1024

function hashFile(file: number): string {
  const hash = createHash('sha256')
  const part = Buffer.allocUnsafe(PART)
  for (let read = readSync(file, part); read > 0; read = readSync(file, part)) hash.update(part.subarray(0, read))
  return hash.digest('hex')
}
