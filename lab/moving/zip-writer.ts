// A zip that is written while it is read: entries one after the other, none of them whole in memory.
import { PassThrough, Readable } from 'node:stream'
import { ZipFile } from 'yazl'

export interface ZipEntry {
  readonly path: string
  /** Opened when its turn comes. */
  readonly open: () => Readable
  /** Known for files: then a file that is cut or grows meanwhile is an error. */
  readonly bytes?: number
  /** False for what is packed already. */
  readonly pack: 'pack' | 'store'
}

/** The stream ends with an error when an entry's does. `done` is called once, when it is over in whatever way. */
export function zipStream(entries: Iterable<ZipEntry> | AsyncIterable<ZipEntry>, options: { readonly at: Date; readonly done: () => void }): Readable {
  const zip = new ZipFile()
  const out = new PassThrough()
  let over = false
  const end = (): void => {
    if (over) return
    over = true
    options.done()
  }
  out.once('close', end)
  // Whoever reads it learns of a fault by reading; one that comes before must not end the process.
  out.on('error', () => undefined)
  zip.on('error', (error: Error) => out.destroy(error))
  zip.outputStream.on('error', (error: Error) => out.destroy(error))
  zip.outputStream.pipe(out)
  const add = async (): Promise<void> => {
    for await (const entry of entries) {
      if (over) return
      await addEntry(zip, entry, options.at)
    }
    zip.end()
  }
  add().catch((error: unknown) => out.destroy(error instanceof Error ? error : new Error(String(error))))
  return out
}

/** Resolves when the entry has been read to its end. */
function addEntry(zip: ZipFile, { path, open, bytes, pack }: ZipEntry, mtime: Date): Promise<void> {
  return new Promise((resolve, reject) => {
    const options = { mtime, compressionLevel: pack === 'pack' ? LEVEL : 0, ...(bytes === undefined ? {} : { size: bytes }) }
    zip.addReadStreamLazy(path, options, (give) => {
      const stream = open()
      stream.once('end', resolve)
      stream.once('error', reject)
      // The library wants null for no error.
      give(null, stream)
    })
  })
}

/** Fast, and within a tenth of the best for text like this. */
const LEVEL = 6
