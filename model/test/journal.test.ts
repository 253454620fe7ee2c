// The journal codec against its numbered rules (JOURNAL.md).
import { createHash } from 'node:crypto'
import * as fc from 'fast-check'
import { beforeAll, describe, expect, test } from 'vitest'
import { FIRST_PREVIOUS, LONGEST_LINE, decodeJournal, encodeRecord, type JournalReading } from '../journal/codec.ts'
import { journalBodySchema, type JournalBody } from '../journal/body.ts'
import { planHash, planSchema } from '../plan.ts'

const AT = '2026-11-24T21:07:00.000Z'
const ID = '01a20feb-a001-7364-9d15-43b8953d11eb'

/** Forty records of every type, with text beyond ASCII in it, as one start would leave them. */
const BODIES: readonly JournalBody[] = startBodies()

let bytes: Uint8Array
let ends: readonly number[]

beforeAll(() => {
  const file = encodeAll(BODIES)
  bytes = file.bytes
  ends = file.ends
})

test('a line is made as rules 3 to 5 say, checked here by other means', () => {
  const { bytes: line, hash } = encodeRecord(7, FIRST_PREVIOUS, { type: 'note', at: AT, text: 'größer' })
  const text = Buffer.from(line).toString('utf8')
  const [sequence, crc, previous] = text.split(' ')
  expect([sequence, previous]).toEqual(['7', '0'.repeat(64)])
  expect(text.endsWith('"text":"größer"}\n')).toBe(true)
  expect(hash).toBe(createHash('sha256').update(text.slice(0, -1)).digest('hex'))
  expect(crc).toBe(bitwiseCrc(Buffer.from(`7 ${previous} ${text.slice(text.indexOf('{'), -1)}`)).toString(16).padStart(8, '0'))
})

test('what was written is read: bodies, sequences, hashes that chain, places', () => {
  const { entries, damage, tail } = decodeJournal(bytes)
  expect(entries.map(({ body }) => body)).toEqual(BODIES)
  expect(entries.map(({ sequence }) => sequence)).toEqual(BODIES.map((_, index) => index))
  expect(entries.map(({ offset }) => offset)).toEqual([0, ...ends.slice(0, -1)])
  expect([damage, tail]).toEqual([[], null])
})

test('an empty file is a journal of no records', () => {
  expect(decodeJournal(new Uint8Array())).toEqual({ entries: [], damage: [], tail: null })
})

test('cut at every single byte, a journal still gives all its whole records, the rest as a tail, and no damage (rule 7)', () => {
  const whole = decodeJournal(bytes)
  for (let length = 0; length <= bytes.length; length++) {
    const reading = decodeJournal(bytes.subarray(0, length))
    const count = ends.filter((end) => end <= length).length
    const begin = count === 0 ? 0 : ends[count - 1]
    if (reading.entries.length !== count || reading.damage.length !== 0 || !sameTail(reading.tail, length === begin ? null : { offset: begin, length: length - begin })) {
      expect.fail(`cut at byte ${length}: ${reading.entries.length} records, ${reading.damage.length} damaged, tail ${JSON.stringify(reading.tail)}; expected ${count} records`)
    }
    if (length === begin) expect(reading.entries).toEqual(whole.entries.slice(0, count))
  }
})

test('a byte changed anywhere is damage at its line; all records before and after it are read (rules 8 and 9)', () => {
  let checked = 0
  for (let at = 0; at < bytes.length; at += SAMPLE_STEP) {
    for (const flip of [0x01, 0x20, 0x80]) {
      const changed = Uint8Array.from(bytes)
      changed[at] ^= flip
      checkChanged(decodeJournal(changed), at, changed[at])
      checked += 1
    }
  }
  expect(checked).toBeGreaterThan(3000)
})

test('a line feed lost joins two lines into one damaged one, the others are read', () => {
  for (const [index, end] of ends.slice(0, -1).entries()) {
    const changed = Uint8Array.from(bytes)
    changed[end - 1] = 0x20
    const { entries, damage } = decodeJournal(changed)
    expect(entries.map(({ sequence }) => sequence)).toEqual(BODIES.flatMap((_, sequence) => (sequence === index || sequence === index + 1 ? [] : [sequence])))
    expect(damage).toHaveLength(1)
    expect(damage[0].line).toBe(index + 1)
  }
})

describe('lines that fit themselves, yet not the file', () => {
  test.each<[string, (lines: readonly Uint8Array[]) => readonly Uint8Array[], number, string]>([
    ['a line left out', (lines) => lines.toSpliced(5, 1), 6, 'record 5 was expected; got 6'],
    ['a line twice', (lines) => lines.toSpliced(5, 0, lines[4]), 6, 'record 5 was expected; got 4'],
    ['two lines in the other order', (lines) => lines.with(4, lines[5]).with(5, lines[4]), 5, 'record 4 was expected; got 5'],
    ['a line of another journal', (lines) => lines.with(5, encodeRecord(5, 'a'.repeat(64), BODIES[5]).bytes), 6, 'the hash of the record before does not fit: a fork or a foreign line'],
    ['a first line that claims one before it', (lines) => lines.with(0, encodeRecord(0, 'a'.repeat(64), BODIES[0]).bytes), 1, 'the hash of the record before does not fit: a fork or a foreign line'],
  ])('%s is damage', (_, change, line, reason) => {
    const { damage } = decodeJournal(Buffer.concat([...change(linesOf())]))
    expect(damage[0]).toMatchObject({ line, reason })
  })

  test('after damage the chain starts anew at the next sound line, and an older record is no such line (rule 9)', () => {
    const lines = linesOf()
    const { entries, damage } = decodeJournal(Buffer.concat([...lines.slice(0, 5), Buffer.from('noise\n'), lines[2], ...lines.slice(5)]))
    expect(damage.map(({ line, reason }) => [line, reason])).toEqual([[6, 'the line is not a record (sequence, checksum, hash, body)'], [7, 'record 2 comes again or out of order']])
    expect(entries.map(({ sequence }) => sequence)).toEqual(BODIES.map((_, index) => index))
  })

  test('two journals that went on from one beginning show where they part', () => {
    const begin = linesOf().slice(0, 6)
    const lastHash = decodeJournal(Buffer.concat(begin)).entries[5].hash
    const one = encodeRecord(6, lastHash, { type: 'note', at: AT, text: 'one' })
    const other = encodeRecord(6, lastHash, { type: 'note', at: AT, text: 'other' })
    const after = encodeRecord(7, other.hash, { type: 'note', at: AT, text: 'after the other' })
    expect(decodeJournal(Buffer.concat([...begin, other.bytes, after.bytes])).damage).toEqual([])
    expect(decodeJournal(Buffer.concat([...begin, one.bytes, after.bytes])).damage[0]).toMatchObject({ line: 8, reason: 'the hash of the record before does not fit: a fork or a foreign line' })
  })
})

test.each([
  ['a body of no known type', '{"type":"wish","at":"2026-11-24T21:07:00.000Z"}', 'the body is not a known record'],
  ['a body with a foreign key', `{"type":"note","at":"${AT}","text":"x","more":1}`, 'the body is not a known record'],
  ['a body that is no JSON', '{"type":}', 'the body is not JSON'],
])('%s is damage although its checksum fits (rule 8)', (_, json, reason) => {
  const { damage, entries } = decodeJournal(handMade(0, FIRST_PREVIOUS, json))
  expect(entries).toEqual([])
  expect(damage[0].reason).toContain(reason)
})

test('a line that is not UTF-8, and one longer than a record may be, are damage (rule 8)', () => {
  const [first] = linesOf()
  const broken = decodeJournal(Buffer.concat([first, Buffer.from([0xff, 0xfe, 0x0a])]))
  expect(broken.damage[0]).toEqual({ offset: first.length, length: 3, line: 2, reason: 'the line is not UTF-8' })
  const long = decodeJournal(Buffer.concat([first, Buffer.alloc(LONGEST_LINE + 1, 0x20), Buffer.from('\n')]))
  expect(long.damage[0]).toMatchObject({ line: 2, reason: 'the line is longer than a record may be' })
})

test('any bytes at all are read without a throw, and every byte is accounted for', () => {
  fc.assert(
    fc.property(fc.uint8Array({ maxLength: 400 }), fc.nat({ max: BODIES.length }), (noise, count) => {
      const file = Buffer.concat([...linesOf().slice(0, count), noise])
      const { entries, damage, tail } = decodeJournal(file)
      expect(entries).toHaveLength(count)
      const lengths = damage.reduce((sum, { length }) => sum + length, 0) + (tail?.length ?? 0)
      expect(lengths).toBe(noise.length)
    }),
  )
})

test('any records come back as they were written', () => {
  const moment = fc.date({ min: new Date(0), max: new Date('9999-12-31'), noInvalidDate: true }).map((date) => date.toISOString())
  const text = fc.string({ unit: 'binary', maxLength: 60 }).filter((text) => text.isWellFormed())
  const body: fc.Arbitrary<JournalBody> = fc.oneof(
    fc.record({ type: fc.constant('note' as const), at: moment, text }),
    fc.record({ type: fc.constant('done' as const), at: moment, step: text, message: text }),
    fc.record({ type: fc.constant('heartbeat' as const), at: moment, step: text, elapsed: fc.double({ min: 0, noNaN: true, noDefaultInfinity: true }).map((value) => value + 0) }),
    fc.record({
      type: fc.constant('end' as const),
      at: moment,
      step: text,
      runId: fc.constant(ID),
      outcome: fc.constantFrom('scored' as const, 'hung' as const),
      measures: fc.array(fc.record({ name: fc.constantFrom('score', 'Zeit', '時間'), value: fc.double({ noNaN: true, noDefaultInfinity: true }).filter((value) => !Object.is(value, -0)) }), { maxLength: 4 }),
      seconds: fc.double({ min: 0, noNaN: true, noDefaultInfinity: true }).map((value) => value + 0),
      exitStatus: fc.option(fc.integer({ min: 0, max: 255 })),
      signal: fc.constantFrom(null, 'SIGSEGV'),
    }),
  )
  fc.assert(
    fc.property(fc.array(body, { maxLength: 12 }), (bodies) => {
      const { entries, damage, tail } = decodeJournal(encodeAll(bodies).bytes)
      expect(entries.map((entry) => entry.body)).toEqual(bodies)
      expect([damage, tail]).toEqual([[], null])
    }),
  )
})

/** Every 7th byte: falls into all fields of all lines, and keeps the test short. */
const SAMPLE_STEP = 7

const encoder = new TextEncoder()

function checkChanged({ entries, damage, tail }: JournalReading, at: number, now: number): void {
  const index = ends.findIndex((end) => at < end)
  const begin = index === 0 ? 0 : ends[index - 1]
  const isFeed = at === ends[index] - 1
  const isLast = index === ends.length - 1
  const place = `byte ${at} in line ${index + 1} changed to ${now}`
  // The line feed itself lost: this line and the next are one, or the last line becomes the tail. A new one: two lines for one.
  const lost = isFeed && !isLast ? [index, index + 1] : [index]
  const kept = BODIES.flatMap((_, sequence) => (lost.includes(sequence) ? [] : [sequence]))
  expect(entries.map(({ sequence }) => sequence), place).toEqual(kept)
  if (isFeed && isLast) {
    expect([damage, tail], place).toEqual([[], { offset: begin, length: bytes.length - begin }])
    return
  }
  expect(tail, place).toBeNull()
  expect(damage.length, place).toBe(now === 0x0a ? 2 : 1)
  expect(damage[0], place).toMatchObject({ offset: begin, line: index + 1 })
  expect(damage.reduce((sum, { length }) => sum + length, 0), place).toBe(ends[lost[lost.length - 1]] - begin)
}

function linesOf(): readonly Uint8Array[] {
  return ends.map((end, index) => bytes.subarray(index === 0 ? 0 : ends[index - 1], end))
}

function encodeAll(bodies: readonly JournalBody[]): { readonly bytes: Uint8Array; readonly ends: readonly number[] } {
  let previous = FIRST_PREVIOUS
  let length = 0
  const lines: Uint8Array[] = []
  const ends = bodies.map((body, sequence) => {
    const line = encodeRecord(sequence, previous, body)
    previous = line.hash
    lines.push(line.bytes)
    return (length += line.bytes.length)
  })
  return { bytes: Buffer.concat(lines), ends }
}

function handMade(sequence: number, previous: string, json: string): Uint8Array {
  const crc = bitwiseCrc(encoder.encode(`${sequence} ${previous} ${json}`)).toString(16).padStart(8, '0')
  return encoder.encode(`${sequence} ${crc} ${previous} ${json}\n`)
}

/** CRC-32C bit by bit from its definition: the slow twin of the table. */
function bitwiseCrc(bytes: Uint8Array): number {
  let crc = 0xffffffff
  for (const byte of bytes) {
    crc ^= byte
    for (let bit = 0; bit < 8; bit++) crc = crc & 1 ? (crc >>> 1) ^ 0x82f63b78 : crc >>> 1
  }
  return ~crc >>> 0
}

function sameTail(a: JournalReading['tail'], b: JournalReading['tail']): boolean {
  return a?.offset === b?.offset && a?.length === b?.length
}

function startBodies(): readonly JournalBody[] {
  const plan = planSchema.parse({
    schema: 1,
    id: 'north-1',
    title: 'Grundtakt gegen 5 % mehr, 35 °C',
    rig: 'north bench',
    assembly: [{ slot: 'processor', part: 'Quillon 14', sample: 'Q14-01' }],
    tunes: [{ name: 'base' }],
    workloads: [{ name: 'tile render, all cores', command: { run: ['true'] }, measures: [{ name: 'time', unit: 's', direction: 'lower is better', reading: { elapsed: 'seconds' } }] }],
    design: { tunes: ['base'], workloads: ['tile render, all cores'], startsPerTune: 1, repeats: 11 },
  })
  const runs = Array.from({ length: 11 }, (_, index): readonly JournalBody[] => [
    { type: 'begin', at: AT, step: `b1.t1.w1.r${index + 1}`, runId: ID, inForceId: ID, workload: 'tile render, all cores', order: index },
    { type: 'heartbeat', at: AT, step: `b1.t1.w1.r${index + 1}`, elapsed: 5.0625 },
    {
      type: 'end', at: AT, step: `b1.t1.w1.r${index + 1}`, runId: ID, outcome: index === 5 ? 'program died' : 'scored', measures: [{ name: 'time', value: 40 + index / 8 }],
      seconds: 40 + index / 8, exitStatus: index === 5 ? null : 0, signal: index === 5 ? 'SIGSEGV' : null,
    },
  ])
  const bodies: readonly JournalBody[] = [
    { type: 'open', at: AT, format: 1, journal: ID, program: 'test', planHash: planHash(plan), plan, step: 'b1.t1', startId: ID, startOrder: 3, previous: { journal: ID, lastHash: 'f'.repeat(64) }, bootId: 'b' },
    { type: 'resolved', at: AT, journal: ID, step: 'b0', runId: ID, outcome: 'machine reset', evidence: 'another boot' },
    { type: 'start', at: AT, tune: 'base', how: 'cold', result: 'started', training: { result: 'full', tries: 2, seconds: 31.5, postCode: 'A2' }, conditions: { ambient: 35 } },
    { type: 'in force', at: AT, inForceId: ID, tune: 'base', known: 'read back', observed: [{ key: 'limit', expected: 95, found: 95, unit: 'W', matches: true }] },
    { type: 'done', at: AT, step: 'b1.t1' },
    ...runs.flat(),
    { type: 'note', at: AT, text: 'Lüfter ↑, "quoted", back\\slash, line\nfeed' },
    { type: 'close', at: AT, reason: 'nothing is left to run' },
  ]
  return bodies.map((body) => journalBodySchema.parse(body))
}
