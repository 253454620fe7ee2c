// The code that lets one device in: short-lived, good once, dead after a few wrong tries; and how often anybody may try.
import { createHash, timingSafeEqual } from 'node:crypto'
import type { PairingState } from '@guardband/model'

export interface PairingSources {
  readonly now: () => number
  readonly fillRandom: (bytes: Uint8Array) => void
}

export interface Pairing {
  /** A new code; the one before is void. */
  open(): { readonly code: string; readonly until: string }
  /** Uses the code up when it is the right one. */
  try(code: string, from: string): PairingTry
  /** The code was used by a device of this name. */
  settle(device: string): void
  /** No code is good from now on. */
  close(): void
  state(): PairingState
}

export type PairingTry = { readonly result: 'right' } | { readonly result: 'wrong' } | { readonly result: 'too often'; readonly waitSeconds: number }

export const CODE_LENGTH = 8
export const CODE_LIFE_MS = 5 * 60 * 1000
/** A person mistypes once or twice. With 31^8 codes, five tries find one in 170 billion. */
export const TRIES_A_CODE = 5
export const TRIES_AN_ADDRESS = 8
export const TRIES_IN_ALL = 30
export const WINDOW_MS = 10 * 60 * 1000

/** Neither 0 and O, nor 1, I and L: on a phone in a workshop they look alike. */
const ALPHABET = '23456789ABCDEFGHJKMNPQRSTUVWXYZ'

export function createPairing({ now, fillRandom }: PairingSources): Pairing {
  let current: { readonly digest: Buffer; readonly until: number; wrong: number } | undefined
  let last: PairingState = { state: 'none' }
  const tries: { readonly at: number; readonly from: string }[] = []

  const alive = (): typeof current => {
    if (current !== undefined && now() >= current.until) {
      current = undefined
      last = { state: 'too late' }
    }
    return current
  }
  /** Milliseconds until there may be a next try; 0 when there may be one now. */
  const mustWait = (from: string): number => {
    const since = now() - WINDOW_MS
    while (tries.length > 0 && tries[0].at <= since) tries.shift()
    const own = tries.filter((entry) => entry.from === from)
    const waits = [{ list: own, most: TRIES_AN_ADDRESS }, { list: tries, most: TRIES_IN_ALL }].map(({ list, most }) => (list.length < most ? 0 : list[list.length - most].at + WINDOW_MS - now()))
    return Math.max(...waits)
  }
  return {
    open() {
      const code = drawCode(fillRandom)
      const until = now() + CODE_LIFE_MS
      current = { digest: digestOf(code), until, wrong: 0 }
      return { code: `${code.slice(0, 4)}-${code.slice(4)}`, until: new Date(until).toISOString() }
    },
    try(typed, from) {
      const wait = mustWait(from)
      if (wait > 0) return { result: 'too often', waitSeconds: Math.ceil(wait / 1000) }
      const entry = alive()
      // Compared also where there is no code, so that the time taken says nothing.
      const same = timingSafeEqual(digestOf(plainCode(typed)), entry?.digest ?? digestOf(''))
      if (entry !== undefined && same) {
        current = undefined
        return { result: 'right' }
      }
      tries.push({ at: now(), from })
      if (entry !== undefined) {
        entry.wrong += 1
        if (entry.wrong >= TRIES_A_CODE) {
          current = undefined
          last = { state: 'too many wrong tries' }
        }
      }
      return { result: 'wrong' }
    },
    settle(device) {
      last = { state: 'used', device }
    },
    close() {
      current = undefined
      last = { state: 'none' }
    },
    state() {
      const entry = alive()
      return entry === undefined ? last : { state: 'open', until: new Date(entry.until).toISOString() }
    },
  }
}

/** As typed by a person: small letters, spaces and the hyphen in the middle count for nothing. */
function plainCode(typed: string): string {
  return typed.slice(0, 40).toUpperCase().replaceAll(/[^A-Z0-9]/g, '')
}

/** Bytes at or above the largest multiple of the alphabet's length are drawn again, or its first letters would come more often. */
function drawCode(fillRandom: (bytes: Uint8Array) => void): string {
  const fair = 256 - (256 % ALPHABET.length)
  let code = ''
  while (code.length < CODE_LENGTH) {
    const bytes = new Uint8Array(CODE_LENGTH)
    fillRandom(bytes)
    for (const byte of bytes) if (byte < fair && code.length < CODE_LENGTH) code += ALPHABET[byte % ALPHABET.length]
  }
  return code
}

/** Equal lengths, as a compare in constant time needs. */
function digestOf(code: string): Buffer {
  return createHash('sha256').update(code).digest()
}
