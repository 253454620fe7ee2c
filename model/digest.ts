// Content digests: SHA-256 over canonical JSON (RFC 8785), so that equal content has an equal name on every machine.
import { sha256 } from '@noble/hashes/sha2.js'
import { bytesToHex, utf8ToBytes } from '@noble/hashes/utils.js'
import canonicalize from 'canonicalize'
import { SpokenError } from './errors.ts'

/** Lower-case hexadecimal SHA-256 of bytes or of a string's UTF-8. */
export function sha256Hex(content: Uint8Array | string): string {
  return bytesToHex(sha256(typeof content === 'string' ? utf8ToBytes(content) : content))
}

/** RFC 8785 text of a JSON value. Throws `not-json` for what JSON can't hold (NaN, infinities, functions). */
export function canonicalJson(value: unknown): string {
  let text: string | undefined
  try {
    text = canonicalize(value)
  } catch (cause) {
    throw new SpokenError({ code: 'not-json', message: `value must be JSON; got something it can't hold (${String(cause)})` })
  }
  if (text === undefined) throw new SpokenError({ code: 'not-json', message: 'value must be JSON; got undefined' })
  return text
}

/** The content digest of a JSON value: hexadecimal SHA-256 of its canonical text. */
export function contentDigest(value: unknown): string {
  return sha256Hex(canonicalJson(value))
}
