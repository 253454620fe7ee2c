// Reads a zip from anywhere: only plain names, only as many bytes as it declares, and never more than it should.
import { openPromise, type Entry, type ZipFile } from 'yauzl'
import { SpokenError } from '@guardband/model'

export interface OpenZip {
  readonly names: readonly string[]
  /** As declared; more than this is never unpacked. */
  readonly bytes: (name: string) => number
  readonly read: (name: string) => AsyncIterable<Uint8Array>
  /** Refused when it declares more than `limit`. */
  readonly text: (name: string, limit: number) => Promise<string>
  readonly close: () => void
}

/** Throws a sentence for what is no zip, is cut short, or has names that lead elsewhere. */
export async function openZip(file: string, shown: string, limits: { readonly entries: number }): Promise<OpenZip> {
  const zip = await speak(shown, () => openPromise(file, { lazyEntries: true, autoClose: false, strictFileNames: true, validateEntrySizes: true }))
  try {
    const entries = await speak(shown, () => listEntries(zip, shown, limits.entries))
    const entryOf = (name: string): Entry => {
      const entry = entries.get(name)
      if (entry === undefined) throw new SpokenError({ code: 'no-zip-entry', place: shown, message: `"${name}" is missing in it.`, mend: GET_AGAIN })
      return entry
    }
    async function* read(name: string): AsyncGenerator<Uint8Array> {
      const stream = await speak(`${shown}, ${name}`, () => zip.openReadStreamPromise(entryOf(name)))
      try {
        for await (const piece of stream) yield piece as Uint8Array
      } catch (error) {
        throw spoken(`${shown}, ${name}`, error)
      }
    }
    return {
      names: [...entries.keys()],
      bytes: (name) => entryOf(name).uncompressedSize,
      read,
      text: async (name, limit) => {
        if (entryOf(name).uncompressedSize > limit) throw new SpokenError({ code: 'zip-too-large', place: `${shown}, ${name}`, message: `it must be at most ${Math.round(limit / (1024 * 1024))} MB unpacked; it says ${Math.round(entryOf(name).uncompressedSize / (1024 * 1024))} MB.`, mend: GET_AGAIN })
        const pieces: Uint8Array[] = []
        for await (const piece of read(name)) pieces.push(piece)
        try {
          return new TextDecoder('utf-8', { fatal: true }).decode(Buffer.concat(pieces))
        } catch {
          throw new SpokenError({ code: 'zip-encoding', place: `${shown}, ${name}`, message: 'it must be UTF-8; got bytes that are not.', mend: GET_AGAIN })
        }
      },
      close: () => zip.close(),
    }
  } catch (error) {
    zip.close()
    throw error
  }
}

export const GET_AGAIN = 'Copy or export it again.'

/** One look at the names decides: no folders, no links, no name twice, not even in other capitals, as some disks would make one file of both. */
async function listEntries(zip: ZipFile, shown: string, most: number): Promise<ReadonlyMap<string, Entry>> {
  if (zip.entryCount > most) throw new SpokenError({ code: 'zip-entries', place: shown, message: `it must hold at most ${most} files; it says ${zip.entryCount}.`, mend: GET_AGAIN })
  const entries = new Map<string, Entry>()
  const folded = new Set<string>()
  for await (const entry of zip.eachEntry()) {
    const name = entry.fileName
    const fault = PLAIN.test(name) ? (isLink(entry) ? 'is a link' : entry.isEncrypted() ? 'is encrypted' : folded.has(name.toLowerCase()) ? 'is in it twice' : null) : 'is no plain name of a file'
    if (fault !== null) throw new SpokenError({ code: 'zip-name', place: shown, message: `"${name.slice(0, SHOWN)}" ${fault}, so nothing of it was unpacked.`, mend: 'Take only files that an export of this program made.' })
    folded.add(name.toLowerCase())
    entries.set(name, entry)
  }
  return entries
}

/** At most one folder; letters, digits, dots, hyphens, underscores and spaces within; no name that is only dots. */
const PLAIN = /^(?:[a-z]{1,20}\/)?(?!\.)[A-Za-z0-9._ -]{1,200}(?<![. ])$/
const SHOWN = 100

/** The upper half of the attributes is the mode where a Unix program made the zip (APPNOTE 4.4.15); 0o120000 is a symbolic link. */
function isLink(entry: Entry): boolean {
  return ((entry.externalFileAttributes >>> 16) & 0o170000) === 0o120000
}

async function speak<Result>(place: string, work: () => Promise<Result>): Promise<Result> {
  try {
    return await work()
  } catch (error) {
    throw spoken(place, error)
  }
}

function spoken(place: string, error: unknown): unknown {
  if (error instanceof SpokenError) return error
  if (error instanceof Error && 'code' in error && typeof error.code === 'string' && error.code.startsWith('E')) {
    if (error.code === 'ENOENT') return new SpokenError({ code: 'no-file', place, message: 'there is no such file.', mend: 'Check the name.' })
    return error
  }
  return new SpokenError({ code: 'zip-damaged', place, message: `it is cut short or damaged (${error instanceof Error ? error.message.slice(0, SHOWN) : 'it could not be read'}).`, mend: GET_AGAIN })
}
