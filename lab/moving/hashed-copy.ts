// Copies a file piece by piece, syncs it, and says what it was.
import { createHash, type Hash } from 'node:crypto'
import { createReadStream } from 'node:fs'
import { mkdir, open } from 'node:fs/promises'
import path from 'node:path'
import { Readable, Transform } from 'node:stream'

/** Never writes over a file. */
export async function writeHashed(pieces: AsyncIterable<Uint8Array>, to: string): Promise<{ readonly sha256: string; readonly bytes: number }> {
  await mkdir(path.dirname(to), { recursive: true })
  const hash = createHash('sha256')
  let bytes = 0
  const handle = await open(to, 'wx', FILE_MODE)
  try {
    for await (const piece of pieces) {
      hash.update(piece)
      bytes += piece.byteLength
      let written = 0
      while (written < piece.byteLength) written += (await handle.write(piece, written)).bytesWritten
    }
    await handle.sync()
  } finally {
    await handle.close()
  }
  return { sha256: hash.digest('hex'), bytes }
}

/** The first so many bytes of a file. */
export function readFirst(file: string, bytes: number): Readable {
  return bytes === 0 ? Readable.from([]) : createReadStream(file, { start: 0, end: bytes - 1 })
}

/** Lets bytes through and hashes them. */
export function hashing(hash: Hash): Transform {
  return new Transform({
    transform(piece: Buffer, _encoding, done) {
      hash.update(piece)
      done(null, piece)
    },
  })
}

const FILE_MODE = 0o644
