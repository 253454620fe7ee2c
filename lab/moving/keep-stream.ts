// Writes a stream to a file that is whole or not there, and never over another one.
import { open, link, rename, rm } from 'node:fs/promises'
import { lstatSync } from 'node:fs'
import path from 'node:path'
import type { Readable } from 'node:stream'
import { SpokenError } from '@guardband/model'
import { spokenFileError, syncFolder, TEMPORARY_PREFIX } from '../files.ts'

/** Returns its bytes. */
export async function keepStream(stream: Readable, file: string): Promise<number> {
  if (lstatSync(file, { throwIfNoEntry: false }) !== undefined) {
    stream.destroy()
    throw taken(file)
  }
  const temporary = path.join(path.dirname(file), `${TEMPORARY_PREFIX}${path.basename(file)}.${process.pid}`)
  let bytes = 0
  try {
    const handle = await open(temporary, 'wx', FILE_MODE)
    try {
      for await (const piece of stream as AsyncIterable<Buffer | string>) {
        const part = typeof piece === 'string' ? Buffer.from(piece) : piece
        bytes += part.byteLength
        let written = 0
        while (written < part.byteLength) written += (await handle.write(part, written)).bytesWritten
      }
      await handle.sync()
    } finally {
      await handle.close()
    }
    await moveToFree(temporary, file)
    syncFolder(path.dirname(file))
    return bytes
  } catch (error) {
    stream.destroy()
    await rm(temporary, { force: true })
    throw missingFolder(error, file) ?? spokenFileError(error, file)
  }
}

const FILE_MODE = 0o644

/** A second name fails where a file came to stand meanwhile; some disks know no second names. */
async function moveToFree(temporary: string, file: string): Promise<void> {
  try {
    await link(temporary, file)
    await rm(temporary)
  } catch (error) {
    if ((error as NodeJS.ErrnoException).code === 'EEXIST') throw taken(file)
    await rename(temporary, file)
  }
}

function missingFolder(error: unknown, file: string): SpokenError | undefined {
  const code = (error as NodeJS.ErrnoException).code
  if (code !== 'ENOENT' && code !== 'ENOTDIR') return undefined
  return new SpokenError({ code: 'no-folder', place: file, message: 'the folder that it should go to is not there.', mend: 'Make it first, or choose another.' })
}

function taken(file: string): SpokenError {
  return new SpokenError({ code: 'file-taken', place: file, message: 'there is something under this name already; nothing is written over it.', mend: 'Choose another name.' })
}
