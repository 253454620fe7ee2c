// The door through which unknown data becomes typed records.
import { describe, expect, test } from 'vitest'
import { recordSchema, settingText, type RecordKind } from '../records/index.ts'
import { makeId, smallestRecords } from './make-records.ts'

function accepts(record: unknown): boolean {
  return recordSchema.safeParse(record).success
}

function withField(kind: RecordKind, fields: Readonly<Record<string, unknown>>): unknown {
  return { ...smallestRecords[kind], ...fields }
}

function question(a: unknown, percent: number): unknown {
  const smallestGain = { percent, fixedAt: '2026-11-03T08:00:00Z' }
  return withField('question', { ask: { kind: 'gain', about: { a, b: { tuneId: makeId(2) }, suiteId: makeId(3), smallestGain } } })
}

function askingFor(percent: number): unknown {
  return question({ partId: makeId(1) }, percent)
}

function askingOf(a: unknown): unknown {
  return question(a, 1)
}

function tuneThatAsks(asked: unknown): unknown {
  return withField('tune', { settings: [{ key: 'package power', asked }] })
}

function settingHeld(value: unknown, known: unknown): unknown {
  return withField('in force', { settings: [{ key: 'package power', value, known }] })
}

const recordKinds = recordSchema.options.map((option) => option.shape.kind.value)

describe.each(recordKinds.map((kind) => ({ kind })))('$kind', ({ kind }) => {
  const record = smallestRecords[kind]

  test('the smallest sound record is accepted, and comes back from JSON the same', () => {
    const parsed = recordSchema.parse(record)
    expect(parsed.kind).toBe(kind)
    expect(recordSchema.parse(JSON.parse(JSON.stringify(parsed)))).toEqual(parsed)
  })

  test('no field of it can be missing', () => {
    for (const name of Object.keys(record)) expect(accepts(Object.fromEntries(Object.entries(record).filter(([key]) => key !== name))), `without ${name}`).toBe(false)
  })

  test('a field that nobody knows, a foreign id and an overlong note are refused', () => {
    expect(accepts({ ...record, surprise: 1 })).toBe(false)
    for (const id of ['', 'one', makeId(1).toUpperCase().replace('0198', 'ABCD'), `${makeId(1)} `]) expect(accepts({ ...record, id }), id).toBe(false)
    expect(accepts({ ...record, note: 'x'.repeat(10_000) })).toBe(true)
    expect(accepts({ ...record, note: 'x'.repeat(10_001) })).toBe(false)
  })
})

test('there are records of each kind that the lab speaks of, and of no other', () => {
  expect(new Set<string>(recordKinds)).toEqual(new Set(Object.keys(smallestRecords)))
  expect(accepts({ kind: 'gadget', id: makeId(1) })).toBe(false)
  expect([null, 7, 'run', [], undefined].some(accepts)).toBe(false)
})

describe('numbers', () => {
  test('what is no finite number is refused', () => {
    for (const value of [Number.NaN, Number.POSITIVE_INFINITY, '1', null]) {
      expect(accepts(withField('run', { measures: [{ name: 'score', value }] })), String(value)).toBe(false)
      expect(accepts(withField('cost', { handMinutes: value })), String(value)).toBe(false)
    }
    expect(accepts(withField('run', { measures: [{ name: 'score', value: -1.5 }] }))).toBe(true)
  })

  test('minutes, weights, percents and orders stay within what they mean', () => {
    expect(accepts(withField('cost', { machineMinutes: -1 }))).toBe(false)
    expect(accepts(withField('suite', { items: [{ workloadId: makeId(1), measure: 'time', weight: 0 }] }))).toBe(false)
    expect(accepts(withField('suite', { items: [] }))).toBe(false)
    expect(accepts(withField('run', { order: -1 }))).toBe(false)
    expect(accepts(withField('run', { order: 0.5 }))).toBe(false)
    expect(accepts(withField('start', { conditions: { humidity: 101 } }))).toBe(false)
    expect([0, -1, 101, Number.NaN].map((percent) => accepts(askingFor(percent)))).toEqual([false, false, false, false])
    expect(accepts(askingFor(0.5))).toBe(true)
  })
})

describe('what is left open is filled in by rule, never by guess', () => {
  test('how a sample was picked and where it is from are unknown until told', () => {
    expect(recordSchema.parse(smallestRecords.sample)).toMatchObject({ origin: 'unknown', picked: 'unknown', status: 'bench' })
  })

  test('a lab is real, a start has started, a run has no measures, unless told otherwise', () => {
    expect(recordSchema.parse(smallestRecords.lab)).toMatchObject({ simulated: false, currency: '' })
    expect(recordSchema.parse(smallestRecords.start)).toMatchObject({ result: 'started', conditions: {} })
    expect(recordSchema.parse(smallestRecords.run)).toMatchObject({ measures: [] })
  })

  test('a question compares processors unless told otherwise', () => {
    expect(recordSchema.parse(smallestRecords.question)).toMatchObject({ ask: { about: { slot: 'processor' } } })
  })
})

test('moments carry their zone', () => {
  for (const at of ['2026-11-03T08:00:00Z', '2026-11-03T08:00:00.250+01:00']) expect(accepts(withField('run', { at }))).toBe(true)
  for (const at of ['2026-11-03T08:00:00', '2026-11-03', '3 November', '2026-13-03T08:00:00Z']) expect(accepts(withField('run', { at })), at).toBe(false)
})

test('a run is set aside only with a reason and by somebody', () => {
  const setAside = { reason: 'cooler had come loose', by: 'Ida', at: '2026-11-03T08:00:00Z' }
  expect(accepts(withField('run', { setAside }))).toBe(true)
  expect(accepts(withField('run', { setAside: { ...setAside, reason: '  ' } }))).toBe(false)
  expect(accepts(withField('run', { setAside: { ...setAside, by: '' } }))).toBe(false)
})

test('a side names a part or a tune', () => {
  expect([{ partId: makeId(1) }, { tuneId: makeId(1) }].map((side) => accepts(askingOf(side)))).toEqual([true, true])
  expect([{}, { label: 'before' }, { partId: makeId(1), sampleIds: [] }].map((side) => accepts(askingOf(side)))).toEqual([false, false, false])
})

test('asked is a value, the board’s own choice or unchanged; in force is a value and how it is known', () => {
  expect([{ shape: 'auto' }, { shape: 'unchanged' }, { shape: 'scalar', value: 95, unit: 'W' }].map((asked) => accepts(tuneThatAsks(asked)))).toEqual([true, true, true])
  expect(accepts(tuneThatAsks('auto'))).toBe(false)
  expect(accepts(settingHeld({ shape: 'scalar', value: 95, unit: 'W' }, 'read back'))).toBe(true)
  expect(accepts(settingHeld({ shape: 'auto' }, 'read back'))).toBe(false)
  expect(accepts(settingHeld({ shape: 'scalar', value: 95, unit: 'W' }, 'hoped for'))).toBe(false)
})

test('a setting reads short in a sentence', () => {
  expect(settingText({ shape: 'scalar', value: 1.25, unit: 'V' })).toBe('1.25 V')
  expect(settingText({ shape: 'scalar', value: 54, unit: '1' })).toBe('54')
  expect(settingText({ shape: 'mode', mode: 'quiet' })).toBe('quiet')
  expect(settingText({ shape: 'table', rows: [[1, 54], [4, 52]], unit: '1' })).toBe('1: 54, 4: 52')
  expect(settingText({ shape: 'curve', points: [[0.5, 900], [0.7, 2100]], unit: 'MHz' })).toBe('0.5: 900 MHz, 0.7: 2100 MHz')
  expect(settingText({ shape: 'curve', points: [[40, -20.5]], unit: 'mV' })).toBe('40: \u221220.5 mV')
  expect(settingText({ shape: 'scalar', value: -40, unit: 'mV' })).toBe('\u221240 mV')
  expect(settingText({ shape: 'scalar', value: 90, unit: 'degC' })).toBe('90 °C')
  expect([settingText({ shape: 'auto' }), settingText({ shape: 'unchanged' })]).toEqual(['auto', 'unchanged'])
})
