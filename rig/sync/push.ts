// Hands journals over: what a place lacks of each, in whole lines, then the files of failed runs. Nothing is queued but in the journals themselves, so a rig
// may be offline for days, be killed in the middle, or begin anew at any time.
import { readFile } from 'node:fs/promises'
import { basename, join } from 'node:path'
import { decodeJournal, KEPT_LIMIT, sha256Hex } from '@guardband/model'
import type { JournalDisk } from '../journal-disk.ts'
import { Refused, type PlaceClient } from './place-client.ts'

export interface Pushed {
  /** Journals that the place now holds as far as they are written. */
  readonly journals: number
  readonly bytes: number
  /** Runs that were new to it. */
  readonly runs: number
  readonly kept: number
  /** What the place remarked, and what it refused: a sentence each. */
  readonly remarks: readonly string[]
}

/** Rejects where the place can't be reached. A journal that it refuses is left, with a remark, and the others go on. */
export async function pushFolder(client: PlaceClient, disk: JournalDisk, { journalFolder, keptFolder, sent }: { readonly journalFolder: string; readonly keptFolder: string; readonly sent: Set<string> }): Promise<Pushed> {
  let pushed = NOTHING
  const names = await disk.list(journalFolder).catch((cause: unknown) => (isGone(cause) ? [] : Promise.reject(new LocalFault(journalFolder, cause))))
  for (const name of names.filter((file) => file.endsWith('.journal'))) {
    pushed = sum(pushed, await pushJournal(client, disk, { path: join(journalFolder, name), keptFolder, sent }))
  }
  return pushed
}

/** `sent` remembers what went over already: files of failed runs, and journals that are closed. */
export async function pushJournal(client: PlaceClient, disk: JournalDisk, { path, keptFolder, sent }: { readonly path: string; readonly keptFolder: string; readonly sent: Set<string> }): Promise<Pushed> {
  const journal = basename(path).replace(/\.journal$/, '')
  if (sent.has(journal)) return NOTHING
  try {
    const held = await client.held(journal)
    const { written, whole } = await readWritten(disk, path)
    if (whole.length === 0) return NOTHING
    // A person may have taken a copy in whose last line was cut short: that is held as it lies here, behind the whole lines.
    if (held.bytes > written.length || sha256Hex(written.subarray(0, held.bytes)) !== held.sha256) {
      return refusal(`${path}: ${client.place.name} holds another journal of this id, or more of it than there is here: this rig was restored or copied. It is left as it is there.`)
    }
    let [at, runs] = [held.bytes, 0]
    const remarks: string[] = []
    while (at < whole.length) {
      const piece = nextPiece(whole.subarray(at))
      const taken = await client.piece(journal, at, piece)
      at += piece.length
      runs += taken.runs
      remarks.push(...taken.remarks)
    }
    const kept = await pushKept(client, whole, { keptFolder, sent })
    if (kept.remarks.length === 0 && lastLine(whole).includes('"type":"close"')) sent.add(journal)
    return { journals: 1, bytes: Math.max(0, whole.length - held.bytes), runs, kept: kept.files, remarks: [...remarks, ...kept.remarks] }
  } catch (cause) {
    if (cause instanceof Refused && cause.status !== 401) return refusal(`${path}: ${client.place.name} refused it: ${cause.sentence}`)
    if (cause instanceof LocalFault) return refusal(cause.message)
    throw cause
  }
}

const LINE_FEED = 0x0a
/** Small enough that a weak radio gets on with it; large enough that a journal of a start goes in one. */
const PIECE_BYTES = 1024 * 1024
const NOTHING: Pushed = { journals: 0, bytes: 0, runs: 0, kept: 0, remarks: [] }

/** This rig's own disk says no: no fault of the place. */
class LocalFault extends Error {
  constructor(path: string, cause: unknown) {
    super(`${path} could not be read here: ${cause instanceof Error ? cause.message : String(cause)}`, { cause })
    this.name = 'LocalFault'
  }
}

/** Once the whole lines are on this disk: a place must never hold what a power cut can still take from the rig. */
async function readWritten(disk: JournalDisk, path: string): Promise<{ readonly written: Uint8Array; readonly whole: Uint8Array }> {
  try {
    const written = await disk.read(path)
    const whole = written.subarray(0, written.lastIndexOf(LINE_FEED) + 1)
    if (whole.length > 0) await disk.settle(path)
    return { written, whole }
  } catch (cause) {
    throw new LocalFault(path, cause)
  }
}

/** As many whole lines as fit, and at least one. */
function nextPiece(rest: Uint8Array): Uint8Array {
  if (rest.length <= PIECE_BYTES) return rest
  const end = rest.lastIndexOf(LINE_FEED, PIECE_BYTES - 1)
  return rest.subarray(0, (end === -1 ? rest.indexOf(LINE_FEED) : end) + 1)
}

function lastLine(whole: Uint8Array): string {
  return Buffer.from(whole.subarray(whole.lastIndexOf(LINE_FEED, whole.length - 2) + 1)).toString('utf8')
}

function isGone(cause: unknown): boolean {
  return cause instanceof Error && 'code' in cause && cause.code === 'ENOENT'
}

async function pushKept(client: PlaceClient, journal: Uint8Array, { keptFolder, sent }: { readonly keptFolder: string; readonly sent: Set<string> }): Promise<{ readonly files: number; readonly remarks: readonly string[] }> {
  const remarks: string[] = []
  let files = 0
  // Most journals name none, and reading each record anew costs the machine under test more than looking for a word.
  if (!Buffer.from(journal.buffer, journal.byteOffset, journal.length).includes('"kept"')) return { files, remarks }
  for (const { body } of decodeJournal(journal).entries) {
    if (body.type !== 'end') continue
    for (const { what, sha256, bytes } of body.kept ?? []) {
      const name = `${body.runId} ${sha256}`
      if (bytes > KEPT_LIMIT || sent.has(name)) continue
      const path = join(keptFolder, sha256)
      const file = await readFile(path).catch((cause: unknown) => new LocalFault(path, cause))
      if (file instanceof LocalFault) {
        remarks.push(isGone(file.cause) ? `${path}: the ${what} of step ${body.step} is no longer here.` : file.message)
        continue
      }
      try {
        await client.keep({ run: body.runId, what, sha256 }, file)
        files += 1
        sent.add(name)
      } catch (cause) {
        if (!(cause instanceof Refused) || cause.status === 401) throw cause
        remarks.push(`${path}: ${client.place.name} refused it: ${cause.sentence}`)
      }
    }
  }
  return { files, remarks }
}

function refusal(remark: string): Pushed {
  return { ...NOTHING, remarks: [remark] }
}

function sum(a: Pushed, b: Pushed): Pushed {
  return { journals: a.journals + b.journals, bytes: a.bytes + b.bytes, runs: a.runs + b.runs, kept: a.kept + b.kept, remarks: [...a.remarks, ...b.remarks] }
}
