// What a companion keeps of the rigs that it let in: their tokens, as digests, and their journals, byte for byte as they were handed over.
import { createHash } from 'node:crypto'
import { closeSync, existsSync, fdatasyncSync, fsyncSync, mkdirSync, openSync, readFileSync, writeSync } from 'node:fs'
import { join } from 'node:path'
import { z } from 'zod'
import { SpokenError, idSchema, nameSchema, sha256Hex, type Held } from '@guardband/model'
import { newInPiece } from '@guardband/model/journal/piece'
import { writeWhole } from '../write-whole.ts'

const deviceSchema = z.strictObject({ id: idSchema, name: nameSchema, tokenHash: z.string() })
export type LetIn = z.infer<typeof deviceSchema>

const fileSchema = z.strictObject({ id: idSchema, devices: z.array(deviceSchema), journals: z.record(idSchema, idSchema) })

export interface HeldStore {
  /** This companion's own. */
  readonly id: string
  readonly devices: () => readonly LetIn[]
  readonly add: (name: string, token: string) => LetIn
  readonly byToken: (token: string) => LetIn | undefined
  readonly bytes: (journal: string) => Uint8Array
  readonly held: (journal: string, device: string) => Held
  /** On disk when it returns. Throws `journal-fork`, `journal-gap`, `journal-foreign`, `journal-piece`. */
  readonly piece: (journal: string, device: string, piece: { readonly offset: number; readonly bytes: Uint8Array }) => Held
}

export function openHeld(folder: string, newId: () => string): HeldStore {
  const file = join(folder, 'let-in.json')
  const mirror = join(folder, 'mirror')
  mkdirSync(mirror, { recursive: true })
  let kept = existsSync(file) ? fileSchema.parse(JSON.parse(readFileSync(file, 'utf8'))) : { id: newId(), devices: [], journals: {} }
  const write = (next: typeof kept): void => {
    writeWhole({ path: file, content: `${JSON.stringify(next, null, 2)}\n`, mode: 0o600 }, newId)
    kept = next
  }
  if (!existsSync(file)) write(kept)
  const path = (journal: string): string => join(mirror, `${journal}.journal`)
  const bytes = (journal: string): Uint8Array => (existsSync(path(journal)) ? readFileSync(path(journal)) : new Uint8Array())
  const requireOwn = (journal: string, device: string): void => {
    const owner = kept.journals[journal]
    if (owner !== undefined && owner !== device) throw new SpokenError({ code: 'journal-foreign', place: `journal ${journal}`, message: 'another device began to hand this journal over, and only that one goes on with it.', mend: 'Pair one device for each rig.' })
  }
  return {
    id: kept.id,
    devices: () => kept.devices,
    add: (name, token) => {
      const device = { id: newId(), name, tokenHash: hashOf(token) }
      write({ ...kept, devices: [...kept.devices, device] })
      return device
    },
    byToken: (token) => kept.devices.find(({ tokenHash }) => tokenHash === hashOf(token)),
    bytes,
    held: (journal, device) => {
      requireOwn(journal, device)
      return heldOf(bytes(journal))
    },
    piece: (journal, device, { offset, bytes: piece }) => {
      requireOwn(journal, device)
      const before = bytes(journal)
      const rest = newInPiece(journal, before, { offset, bytes: piece })
      if (kept.journals[journal] === undefined) write({ ...kept, journals: { ...kept.journals, [journal]: device } })
      appendSynced(path(journal), mirror, rest)
      return heldOf(Buffer.concat([before, rest]))
    },
  }
}

function hashOf(token: string): string {
  return createHash('sha256').update(token).digest('hex')
}

function heldOf(bytes: Uint8Array): Held {
  return { bytes: bytes.length, sha256: sha256Hex(bytes) }
}

/** A kill in the middle leaves a beginning of the piece, which the next `held` tells, and the rig sends the rest. */
function appendSynced(path: string, folder: string, bytes: Uint8Array): void {
  const isNew = !existsSync(path)
  const handle = openSync(path, 'a', 0o600)
  try {
    for (let written = 0; written < bytes.length; ) written += writeSync(handle, bytes, written, bytes.length - written)
    fdatasyncSync(handle)
  } finally {
    closeSync(handle)
  }
  if (!isNew || process.platform === 'win32') return
  const names = openSync(folder, 'r')
  try {
    fsyncSync(names)
  } finally {
    closeSync(names)
  }
}
