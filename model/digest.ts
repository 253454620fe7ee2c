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
    text = plainText(value) ?? canonicalize(value)
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

/** The same for what consists of plain objects, lists, texts, finite numbers, booleans and null, in a fraction of the time; undefined leaves it to the library. */
function plainText(value: unknown): string | undefined {
  if (typeof value === 'string') return value.isWellFormed() ? JSON.stringify(value) : undefined
  // As JSON writes it, minus zero included.
  if (typeof value === 'number') return Number.isFinite(value) ? `${value}` : undefined
  if (typeof value === 'boolean') return value ? 'true' : 'false'
  if (value === null) return 'null'
  if (typeof value !== 'object') return undefined
  return Array.isArray(value) ? plainList(value) : plainObject(value)
}

function plainList(list: readonly unknown[]): string | undefined {
  let text = '['
  for (let index = 0; index < list.length; index++) {
    const item = plainText(list[index])
    if (item === undefined) return undefined
    text += index === 0 ? item : `,${item}`
  }
  return `${text}]`
}

function plainObject(value: object): string | undefined {
  const prototype: unknown = Object.getPrototypeOf(value)
  if ((prototype !== Object.prototype && prototype !== null) || 'toJSON' in value) return undefined
  let text = ''
  const names = namesOf(Object.keys(value))
  if (names === undefined) return undefined
  for (const { key, name } of names) {
    // The keys are the object's own.
    const member = (value as Readonly<Record<string, unknown>>)[key]
    if (member === undefined) continue
    const memberText = plainText(member)
    if (memberText === undefined) return undefined
    text += text === '' ? `${name}:${memberText}` : `,${name}:${memberText}`
  }
  return `{${text}}`
}

interface Named {
  readonly key: string
  /** As JSON. */
  readonly name: string
}

/** By how many keys there are: records of one kind come in thousands, one after the other, with the same keys. */
const lastNames: { readonly keys: readonly string[]; readonly names: readonly Named[] }[] = []
const MOST_KEYS_REMEMBERED = 40

/** Keys in their order, as JSON; undefined leaves it to the library. */
function namesOf(keys: string[]): readonly Named[] | undefined {
  const last = lastNames[keys.length]
  if (last !== undefined && last.keys.every((key, index) => key === keys[index])) return last.names
  const names: Named[] = []
  for (const key of sortInto([...keys])) {
    const name = plainText(key)
    if (name === undefined) return undefined
    names.push({ key, name })
  }
  if (keys.length <= MOST_KEYS_REMEMBERED) lastNames[keys.length] = { keys, names }
  return names
}

/** Few keys, mostly in order already: insertion sort by UTF-16 code units. */
function sortInto(keys: string[]): readonly string[] {
  for (let index = 1; index < keys.length; index++) {
    const key = keys[index]
    let place = index
    for (; place > 0 && keys[place - 1] > key; place--) keys[place] = keys[place - 1]
    keys[place] = key
  }
  return keys
}
