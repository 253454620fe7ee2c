// How the same user finds the hub that already runs for a workspace: a file that only they can read, and a fresh URL asked for over the port it names.
import { createHmac, timingSafeEqual } from 'node:crypto'
import { openSync, closeSync, fsyncSync, readFileSync, renameSync, rmSync, writeSync } from 'node:fs'
import { join } from 'node:path'
import { z } from 'zod'
import { randomSecret } from './access.ts'

export const BEACON_FILE = '.hub.json'

const beaconSchema = z.strictObject({ port: z.int().min(1).max(65_535), pid: z.int(), secret: z.string().min(43).max(100) })
export type Beacon = z.infer<typeof beaconSchema>

/** Writes the file whole or not at all, readable by its owner only. */
export function writeBeacon(folder: string, beacon: Beacon): void {
  const path = join(folder, BEACON_FILE)
  const draft = `${path}.${beacon.pid}`
  rmSync(draft, { force: true })
  const file = openSync(draft, 'wx', 0o600)
  try {
    writeSync(file, JSON.stringify(beacon))
    fsyncSync(file)
  } finally {
    closeSync(file)
  }
  renameSync(draft, path)
}

/** Removes the file unless another hub has written its own since. */
export function removeBeacon(folder: string, secret: string): void {
  if (readBeacon(folder)?.secret === secret) rmSync(join(folder, BEACON_FILE), { force: true })
}

export function readBeacon(folder: string): Beacon | undefined {
  try {
    const parsed = beaconSchema.safeParse(JSON.parse(readFileSync(join(folder, BEACON_FILE), 'utf8')))
    return parsed.success ? parsed.data : undefined
  } catch {
    // Missing, unreadable or half-written by a program that isn't ours: no hub to be found this way.
    return undefined
  }
}

/**
 * A fresh one-time URL from the hub that runs for this workspace; undefined when none answers. Neither side shows the secret: both prove that
 * they know it, since after a crash somebody else's program may listen on the port that the file names.
 */
export async function askForUrl(folder: string, sources: { readonly fillRandom: (bytes: Uint8Array) => void }): Promise<string | undefined> {
  const beacon = readBeacon(folder)
  if (beacon === undefined) return undefined
  const nonce = randomSecret(sources)
  try {
    const reply = await fetch(`http://127.0.0.1:${beacon.port}${ASK_PATH}`, {
      method: 'POST',
      headers: { 'x-guardband-nonce': nonce, 'x-guardband-proof': proofOf(beacon.secret, 'ask', nonce) },
      redirect: 'error',
      signal: AbortSignal.timeout(ASK_TIMEOUT_MS),
    })
    const { url, proof } = replySchema.parse(await reply.json())
    return equalTexts(proof, proofOf(beacon.secret, url, nonce)) ? url : undefined
  } catch {
    return undefined
  }
}

export const ASK_PATH = '/open/new'

/** The running hub's side: the reply, or undefined when the request doesn't prove that it knows the secret. */
export function answerAsk(secret: string, request: { readonly nonce: string; readonly proof: string }, newUrl: () => string): { readonly url: string; readonly proof: string } | undefined {
  if (!equalTexts(request.proof, proofOf(secret, 'ask', request.nonce))) return undefined
  const url = newUrl()
  return { url, proof: proofOf(secret, url, request.nonce) }
}

const replySchema = z.strictObject({ url: z.url(), proof: z.string() })

/** A hub on the same machine answers in milliseconds; a busy one gets this long. */
const ASK_TIMEOUT_MS = 3000

function proofOf(secret: string, what: string, nonce: string): string {
  return createHmac('sha256', secret).update(`${what}\n${nonce}`).digest('base64url')
}

function equalTexts(a: string, b: string): boolean {
  const [left, right] = [Buffer.from(a), Buffer.from(b)]
  return left.length === right.length && timingSafeEqual(left, right)
}
