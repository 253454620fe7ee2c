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
  let pushed: Pushed = { journals: 0, bytes: 0, runs: 0, kept: 0, remarks: [] }
  for (const name of (await disk.list(journalFolder)).filter((file) => file.endsWith('.journal'))) {
    pushed = sum(pushed, await pushJournal(client, disk, { path: join(journalFolder, name), keptFolder, sent }))
  }
  return pushed
}

/** `sent` remembers which files went over already. */
export async function pushJournal(client: PlaceClient, disk: JournalDisk, { path, keptFolder, sent }: { readonly path: string; readonly keptFolder: string; readonly sent: Set<string> }): Promise<Pushed> {
  const journal = basename(path).replace(/\.journal$/, '')
  const written = await disk.read(path)
  const whole = written.subarray(0, written.lastIndexOf(LINE_FEED) + 1)
  if (whole.length === 0) return { journals: 0, bytes: 0, runs: 0, kept: 0, remarks: [] }
  try {
    const held = await client.held(journal)
    if (held.bytes > whole.length || sha256Hex(whole.subarray(0, held.bytes)) !== held.sha256) {
      return refusal(`${path}: ${client.place.name} holds another journal of this id, or more of it than there is here: this rig was restored or copied. It is left as it is there.`)
    }
    const taken = held.bytes === whole.length ? { runs: 0, remarks: [] } : await client.piece(journal, held.bytes, whole.subarray(held.bytes))
    const kept = await pushKept(client, whole, { keptFolder, sent })
    return { journals: 1, bytes: whole.length - held.bytes, runs: taken.runs, kept: kept.files, remarks: [...taken.remarks, ...kept.remarks] }
  } catch (cause) {
    if (cause instanceof Refused && cause.status !== 401) return refusal(`${path}: ${client.place.name} refused it: ${cause.sentence}`)
    throw cause
  }
}

const LINE_FEED = 0x0a
const NOTHING: Pushed = { journals: 0, bytes: 0, runs: 0, kept: 0, remarks: [] }

async function pushKept(client: PlaceClient, journal: Uint8Array, { keptFolder, sent }: { readonly keptFolder: string; readonly sent: Set<string> }): Promise<{ readonly files: number; readonly remarks: readonly string[] }> {
  const remarks: string[] = []
  let files = 0
  for (const { body } of decodeJournal(journal).entries) {
    if (body.type !== 'end') continue
    for (const { what, sha256, bytes } of body.kept ?? []) {
      const name = `${body.runId} ${sha256}`
      if (bytes > KEPT_LIMIT || sent.has(name)) continue
      const path = join(keptFolder, sha256)
      try {
        await client.keep({ run: body.runId, what, sha256 }, await readFile(path))
        files += 1
        sent.add(name)
      } catch (cause) {
        if (cause instanceof Refused) remarks.push(`${path}: ${client.place.name} refused it: ${cause.sentence}`)
        else if (cause instanceof Error && 'code' in cause && cause.code === 'ENOENT') remarks.push(`${path}: the ${what} of step ${body.step} is no longer here.`)
        else throw cause
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
