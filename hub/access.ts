// Who may come in: one-time tokens that a URL carries, and the sessions that they become. Only digests are kept.
import { createHash, timingSafeEqual } from 'node:crypto'

export interface AccessSources {
  /** Milliseconds since 1970. */
  readonly now: () => number
  readonly fillRandom: (bytes: Uint8Array) => void
}

export interface Access {
  /** A fresh one-time token, good for ten minutes. */
  newToken(): string
  /** Uses the token up and returns a new session's secret; undefined when it is unknown, used or too old. */
  redeem(token: string): string | undefined
  /** True when the secret belongs to a session. */
  admits(secret: string): boolean
}

export const TOKEN_LIFE_MS = 10 * 60 * 1000

/** `firstToken` stands for a token that the caller made, for instance to know the address before the hub is up. */
export function createAccess(sources: AccessSources, firstToken?: string): Access {
  const tokens: { readonly digest: Buffer; readonly until: number }[] = []
  const sessions: Buffer[] = []

  const addToken = (token: string): string => {
    tokens.push({ digest: digestOf(token), until: sources.now() + TOKEN_LIFE_MS })
    if (tokens.length > MOST_TOKENS) tokens.shift()
    return token
  }
  if (firstToken !== undefined) addToken(firstToken)

  return {
    newToken: () => addToken(randomSecret(sources)),
    redeem(token) {
      const digest = digestOf(token)
      const now = sources.now()
      const found = tokens.findIndex((entry) => timingSafeEqual(entry.digest, digest))
      if (found === -1) return undefined
      const [entry] = tokens.splice(found, 1)
      if (now >= entry.until) return undefined
      const secret = randomSecret(sources)
      sessions.push(digestOf(secret))
      if (sessions.length > MOST_SESSIONS) sessions.shift()
      return secret
    },
    admits(secret) {
      const digest = digestOf(secret)
      return sessions.some((known) => timingSafeEqual(known, digest))
    },
  }
}

/** 256 bits, as text that fits into URLs and cookies. */
export function randomSecret(sources: Pick<AccessSources, 'fillRandom'>): string {
  const bytes = new Uint8Array(32)
  sources.fillRandom(bytes)
  return Buffer.from(bytes).toString('base64url')
}

/** Enough for somebody who opens the page many times over a long day; the oldest go first. */
const MOST_TOKENS = 20
const MOST_SESSIONS = 200

/** Equal lengths, as a compare in constant time needs. */
function digestOf(secret: string): Buffer {
  return createHash('sha256').update(secret).digest()
}
