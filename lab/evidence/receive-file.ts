// Takes a file in piece by piece, so that it is whole under the name of its content or not there at all.
import { createHash } from 'node:crypto'
import { mkdirSync } from 'node:fs'
import { open, rename, rm } from 'node:fs/promises'
import path from 'node:path'
import { SpokenError } from '@guardband/model'
import { spokenFileError, syncFolder, TEMPORARY_PREFIX } from '../files.ts'

export interface ReceivedFile {
  readonly sha256: string
  readonly bytes: number
}

/** The file is on disk, named by its SHA-256, when this resolves. A file that is there already is written over by the same content, which mends it. */
export async function receiveFile(folder: string, pieces: AsyncIterable<Uint8Array>, options: { readonly limit: number; readonly newId: () => string }): Promise<ReceivedFile> {
  mkdirSync(folder, { recursive: true })
  const temporary = path.join(folder, `${TEMPORARY_PREFIX}${options.newId()}`)
  const hash = createHash('sha256')
  let bytes = 0
  try {
    const handle = await open(temporary, 'wx', FILE_MODE)
    try {
      for await (const piece of pieces) {
        bytes += piece.byteLength
        if (bytes > options.limit) throw tooLarge(options.limit)
        hash.update(piece)
        let written = 0
        while (written < piece.byteLength) written += (await handle.write(piece, written)).bytesWritten
      }
      if (bytes === 0) throw new SpokenError({ code: 'file-empty', message: 'the file is empty.', mend: 'Choose another, or look whether it was still being written.' })
      await handle.sync()
    } finally {
      await handle.close()
    }
    const sha256 = hash.digest('hex')
    await rename(temporary, path.join(folder, sha256))
    syncFolder(folder)
    return { sha256, bytes }
  } catch (error) {
    await rm(temporary, { force: true })
    throw spokenFileError(error, folder)
  }
}

const FILE_MODE = 0o644

function tooLarge(limit: number): SpokenError {
  return new SpokenError({ code: 'file-too-large', message: `a file must be at most ${limit / (1024 * 1024)} MB; got more.`, mend: 'Make it smaller, or keep it elsewhere and say where in a note.' })
}
