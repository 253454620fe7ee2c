// Journal codec: records to bytes and back. A line a record: sequence, CRC-32C, hash of the record before, body. Rules in JOURNAL.md.
import { crc32c } from '../crc32c.ts'
import { sha256Hex } from '../digest.ts'
import { journalBodySchema, type JournalBody } from './body.ts'

/** The hash that stands before the first record of a file (rule 5). */
export const FIRST_PREVIOUS = '0'.repeat(64)

/** A longer line is damage (rule 8): an opening record with a plan of 100,000 steps stays well below. */
export const LONGEST_LINE = 32 * 1024 * 1024

export interface JournalEntry {
  readonly sequence: number
  readonly body: JournalBody
  /** SHA-256 of this record's line without its line feed. */
  readonly hash: string
  /** Where its line begins in the file, in bytes. */
  readonly offset: number
}

export interface JournalDamage {
  /** First damaged byte and how many. */
  readonly offset: number
  readonly length: number
  /** Line number, from 1. */
  readonly line: number
  readonly reason: string
}

export interface JournalReading {
  readonly entries: readonly JournalEntry[]
  readonly damage: readonly JournalDamage[]
  /** Bytes after the last line feed: a record whose writing was cut short, never acknowledged. Null when the file ends with a line feed. */
  readonly tail: { readonly offset: number; readonly length: number } | null
}

/** One record as a line with its line feed, and the hash that the next record will carry. */
export function encodeRecord(sequence: number, previousHash: string, body: JournalBody): { readonly bytes: Uint8Array; readonly hash: string } {
  const json = JSON.stringify(body)
  const crc = crc32c(encoder.encode(`${sequence} ${previousHash} ${json}`)).toString(16).padStart(8, '0')
  const line = encoder.encode(`${sequence} ${crc} ${previousHash} ${json}`)
  const bytes = new Uint8Array(line.length + 1)
  bytes.set(line)
  bytes[line.length] = LINE_FEED
  return { bytes, hash: sha256Hex(line) }
}

/** Reads a whole journal file. Never throws on damage: reports its place and reads on (rule 9). */
export function decodeJournal(bytes: Uint8Array): JournalReading {
  const entries: JournalEntry[] = []
  const damage: JournalDamage[] = []
  let offset = 0
  let line = 0
  /** Null after damage: the chain can't be checked across it. */
  let expected: { readonly sequence: number; readonly previous: string } | null = { sequence: 0, previous: FIRST_PREVIOUS }
  while (offset < bytes.length) {
    const feed = bytes.indexOf(LINE_FEED, offset)
    if (feed === -1) return { entries, damage, tail: { offset, length: bytes.length - offset } }
    line += 1
    const slice = bytes.subarray(offset, feed)
    const result = decodeLine(slice)
    const chained = result.kind === 'record' ? chainFault(result, expected, entries) : null
    if (result.kind === 'record' && chained === null) {
      const hash = sha256Hex(slice)
      entries.push({ sequence: result.sequence, body: result.body, hash, offset })
      expected = { sequence: result.sequence + 1, previous: hash }
    } else {
      damage.push({ offset, length: feed + 1 - offset, line, reason: result.kind === 'fault' ? result.reason : (chained ?? '') })
      expected = null
    }
    offset = feed + 1
  }
  return { entries, damage, tail: null }
}

type LineResult =
  | { readonly kind: 'record'; readonly sequence: number; readonly previous: string; readonly body: JournalBody }
  | { readonly kind: 'fault'; readonly reason: string }

function decodeLine(slice: Uint8Array): LineResult {
  if (slice.length > LONGEST_LINE) return { kind: 'fault', reason: 'the line is longer than a record may be' }
  let text: string
  try {
    text = decoder.decode(slice)
  } catch {
    return { kind: 'fault', reason: 'the line is not UTF-8' }
  }
  const match = LINE.exec(text)
  if (match === null) return { kind: 'fault', reason: 'the line is not a record (sequence, checksum, hash, body)' }
  const [, sequence, crc, previous, json] = match
  if (crc32c(encoder.encode(`${sequence} ${previous} ${json}`)).toString(16).padStart(8, '0') !== crc) return { kind: 'fault', reason: 'the checksum does not fit the line' }
  let body: unknown
  try {
    body = JSON.parse(json)
  } catch {
    return { kind: 'fault', reason: 'the body is not JSON' }
  }
  const parsed = journalBodySchema.safeParse(body)
  if (!parsed.success) return { kind: 'fault', reason: `the body is not a known record: ${parsed.error.issues[0]?.message ?? 'unknown'}` }
  return { kind: 'record', sequence: Number(sequence), previous, body: parsed.data }
}

function chainFault(
  record: { readonly sequence: number; readonly previous: string },
  expected: { readonly sequence: number; readonly previous: string } | null,
  entries: readonly JournalEntry[],
): string | null {
  if (expected === null) {
    const last = entries.at(-1)?.sequence ?? -1
    return record.sequence > last ? null : `record ${record.sequence} comes again or out of order`
  }
  if (record.sequence !== expected.sequence) return `record ${expected.sequence} was expected; got ${record.sequence}`
  return record.previous === expected.previous ? null : 'the hash of the record before does not fit: a fork or a foreign line'
}

const LINE_FEED = 0x0a
const LINE = /^(0|[1-9]\d{0,14}) ([0-9a-f]{8}) ([0-9a-f]{64}) (\{.*\})$/
const encoder = new TextEncoder()
const decoder = new TextDecoder('utf-8', { fatal: true })
