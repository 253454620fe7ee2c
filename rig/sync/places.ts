// The places that a rig hands its journals to: hubs and companions that let it in, each known by its pinned certificate. Kept readable for this user alone.
import { mkdirSync, readFileSync } from 'node:fs'
import { homedir } from 'node:os'
import { dirname, join } from 'node:path'
import { z } from 'zod'
import { SpokenError } from '@guardband/model'
import { approvalsPath } from '../approval-store.ts'
import { writeWhole } from '../write-whole.ts'

const placeSchema = z.strictObject({
  /** `https://ADDRESS:PORT` */
  origin: z.url(),
  /** 64 hex digits. */
  fingerprint: z.string().regex(/^[0-9a-f]{64}$/),
  /** What may stand in a header. */
  token: z.string().regex(/^[\x21-\x7e]{1,200}$/),
  /** As it called itself when the rig was let in. */
  name: z.string().max(200),
})
export type Place = z.infer<typeof placeSchema>

const MOST_PLACES = 20

const fileSchema = z.strictObject({ places: z.array(placeSchema).max(MOST_PLACES) })

/** This user's, beside the approvals. */
export function ownPlaces(): string {
  return join(dirname(approvalsPath(process.env, homedir())), 'places.json')
}

export function readPlaces(path: string): readonly Place[] {
  let text: string
  try {
    text = readFileSync(path, 'utf8')
  } catch (cause) {
    if (cause instanceof Error && 'code' in cause && cause.code === 'ENOENT') return []
    throw cause
  }
  try {
    return fileSchema.parse(JSON.parse(text)).places
  } catch {
    throw new SpokenError({ code: 'places-unreadable', place: path, message: 'this list of places where the rig was let in can not be read.', mend: 'Delete it and pair the rig anew.' })
  }
}

/** The place of the same origin is replaced. */
export function addPlace(path: string, place: Place, newId: () => string): void {
  write(path, [...readPlaces(path).filter(({ origin }) => origin !== place.origin), place], newId)
}

export function removePlace(path: string, origin: string, newId: () => string): void {
  const places = readPlaces(path)
  const left = places.filter((place) => place.origin !== origin)
  if (left.length === places.length) throw new SpokenError({ code: 'no-place', place: origin, message: 'this rig is not let in there.', mend: places.length === 0 ? 'It is let in nowhere.' : `It is let in at ${places.map((place) => place.origin).join(', ')}.` })
  write(path, left, newId)
}

function write(path: string, places: readonly Place[], newId: () => string): void {
  // Name and token are what the other side said: a file that can't be read again would cost all other places too.
  if (!fileSchema.safeParse({ places }).success) {
    throw new SpokenError(
      places.length > MOST_PLACES
        ? { code: 'places-many', message: `a rig hands over to at most ${MOST_PLACES} places.`, mend: 'Leave one first: rig unpair URL.' }
        : { code: 'place-odd', message: 'what answers there gave a token that is none; nothing was kept of it.', mend: 'Is it a hub or companion of the same version?' },
    )
  }
  // Whoever pairs before approving anything has no such folder yet.
  mkdirSync(dirname(path), { recursive: true, mode: 0o700 })
  writeWhole({ path, content: `${JSON.stringify({ places }, null, 2)}\n`, mode: 0o600 }, newId)
}
