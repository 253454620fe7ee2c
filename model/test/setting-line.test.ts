// A line as a person types it is read as one setting, or questioned in a sentence; what is shown reads back the same.
import { assert, constantFrom, double, integer, option, property, record, string, uniqueArray } from 'fast-check'
import { describe, expect, test } from 'vitest'
import type { Asked, Setting, Tune } from '../records/tune.ts'
import { knownSettings, settingBook } from '../settings/setting-book.ts'
import { readSettingLine, settingLine } from '../settings/setting-line.ts'
import { sameAsked } from '../settings/differences.ts'
import { UNITS } from '../units.ts'

const scalar = (value: number, unit: string): Asked => ({ shape: 'scalar', value, unit })
const tune: Tune = {
  kind: 'tune', id: '0192c2a0-0000-7000-8000-000000000001', name: 'house',
  settings: [
    { key: 'core voltage', scope: { level: 'package' }, asked: scalar(1.25, 'V') },
    { key: 'fan policy', scope: { level: 'machine' }, asked: { shape: 'mode', mode: 'quiet' } },
    { key: 'core ratio', scope: { level: 'package' }, asked: scalar(54, '') },
  ],
}
const book = settingBook(knownSettings({ kinds: [], tunes: [tune] }))
const empty = settingBook([])

function read(line: string, using = book): Setting {
  const reading = readSettingLine(line, using)
  if (reading.status !== 'read') throw new Error(`${line}: ${reading.status === 'unclear' ? reading.sentence : reading.status}`)
  return reading.setting
}

describe('a line is read as typed', () => {
  test.each<[string, string, Asked]>([
    ['core ratio = 54', 'core ratio', scalar(54, '')],
    ['vcore 1.25 V', 'vcore', scalar(1.25, 'V')],
    ['core voltage offset -25 mV', 'core voltage offset', scalar(-25, 'mV')],
    ['core voltage offset \u221225mV', 'core voltage offset', scalar(-25, 'mV')],
    ['core clock: 5.4 ghz', 'core clock', scalar(5.4, 'GHz')],
    ['ratio 54x', 'ratio', scalar(54, '')],
    ['first word time 36 clk', 'first word time', scalar(36, 'cycles')],
    ['coolant limit 45 °C', 'coolant limit', scalar(45, 'degC')],
    ['timing 2 36', 'timing 2', scalar(36, '')],
    ['core voltage 1,25 V', 'core voltage', scalar(1.25, 'V')],
    ['core clock 5,400,000 kHz', 'core clock', scalar(5_400_000, 'kHz')],
    ['Core  Voltage auto', 'core voltage', { shape: 'auto' }],
    ['core voltage unchanged', 'core voltage', { shape: 'unchanged' }],
    ['core ratio 1: 58, 2-4: 56, 8: 54', 'core ratio', { shape: 'table', rows: [[1, 58], [2, 56], [3, 56], [4, 56], [8, 54]], unit: '' }],
    ['clock curve = 0.8 V: 3200, 1.0 V: 4400 MHz', 'clock curve', { shape: 'curve', points: [[0.8, 3200], [1, 4400]], unit: 'MHz', atUnit: 'V' }],
    ['fan curve = 40: 20,5 %; 70: 45 %', 'fan curve', { shape: 'table', rows: [[40, 20.5], [70, 45]], unit: '%' }],
    ['fan policy loud at night', 'fan policy', { shape: 'mode', mode: 'loud at night' }],
    ['gear = 1:2', 'gear', { shape: 'mode', mode: '1:2' }],
    ['gear 1:2', 'gear', { shape: 'mode', mode: '1:2' }],
    ['platform = power saver', 'platform', { shape: 'mode', mode: 'power saver' }],
  ])('%s', (line, key, asked) => expect(read(line)).toMatchObject({ key, asked }))

  test('the unit of a known setting is filled in, and the reading says so', () => {
    expect(readSettingLine('core voltage 1.3', book)).toMatchObject({ status: 'read', filledUnit: 'V', setting: { asked: scalar(1.3, 'V') } })
    expect(readSettingLine('core voltage 1.3 V', book)).toMatchObject({ filledUnit: null })
  })

  test.each<[string, Setting['scope']]>([
    ['core voltage @ core 3 = 1.2 V', { level: 'core', index: '3' }],
    ['core voltage, channel A 1.2 V', { level: 'channel', index: 'A' }],
    ['core voltage [module 2]: 1.2 V', { level: 'module', index: '2' }],
    ['core voltage @ core group 1 = 1.2 V', { level: 'core group', index: '1' }],
    ['core voltage @ machine 1.2 V', { level: 'machine' }],
    ['core voltage @ core 3 1.2 V', { level: 'core', index: '3' }],
    ['core voltage 1.2 V', { level: 'package' }],
    ['new thing 1.2 V', { level: 'machine' }],
  ])('%s says where', (line, scope) => expect(read(line)).toMatchObject({ scope, asked: scalar(1.2, 'V') }))
})

test.each([
  ['core voltage 1,250 V', '1,250 may be 1250 or 1.250: write it without the comma.'],
  ['core voltage', '"core voltage" has no value yet.'],
  ['something', 'Where does the value begin? Write "something = value".'],
  ['fan curve quiet', 'Where does the value begin? Write "fan curve = quiet" or the like.'],
  ['= 5', 'The name of the setting is missing before the value.'],
  ['core ratio 1: 58, 56', '"56" lacks its place: write "place: value", parts with commas between them, or with semicolons where figures have a decimal comma.'],
  ['core ratio 1: 58, 1: 56', '1 stands there twice.'],
  ['core ratio 4-2: 56', '4-2 is no range from the lower to the higher.'],
  ['curve = 1: 5 V, 2: 5 mV', 'Two units stand in one row, V and mV: write all in one.'],
  [`a ${'9'.repeat(400)} V`, `${'9'.repeat(400)} V is no number that can be kept.`],
])('%s is not guessed at', (line, sentence) => expect(readSettingLine(line, book)).toEqual({ status: 'unclear', sentence }))

test('blank lines and remarks are nothing', () => {
  expect(['', '   ', '# to be tried on Friday'].map((line) => readSettingLine(line, book).status)).toEqual(['empty', 'empty', 'empty'])
})

test('a line reads back as the setting that it shows', () => {
  const figure = double({ min: -1e6, max: 1e6, noNaN: true }).map((value) => (value === 0 ? 0 : value))
  const unit = constantFrom('', ...UNITS.map(({ symbol }) => symbol).filter((symbol) => symbol !== '1'))
  const rows = uniqueArray(integer({ min: 0, max: 64 }), { minLength: 1, maxLength: 8 })
  const index = option(string({ unit: constantFrom('0', '1', '7', 'A', 'B'), minLength: 1, maxLength: 3 }), { nil: undefined })
  assert(
    property(record({ level: constantFrom<Setting['scope']['level'][]>('package', 'core group', 'core', 'channel', 'module', 'machine'), index, value: figure, unit, rows }), ({ level, index: at, value, unit: symbol, rows: places }) => {
      const scope = { level, ...(at === undefined ? {} : { index: at }) }
      for (const asked of [scalar(value, symbol), { shape: 'table', rows: places.map((place): [number, number] => [place, value]), unit: symbol } as const]) {
        const setting = { key: 'some thing', scope, asked }
        const again = read(settingLine(setting), empty)
        expect(again).toMatchObject({ key: 'some thing', scope })
        expect(sameAsked(again.asked, asked)).toBe(true)
      }
    }),
  )
})

test('suggestions begin with what begins so, then a word that does, then first letters', () => {
  const many = settingBook(knownSettings({ kinds: [], tunes: [{ ...tune, settings: ['memory voltage', 'core voltage offset', 'voltage limit'].map((key) => ({ key, scope: { level: 'machine' }, asked: scalar(1, 'V') })) }] }))
  expect(many.suggest('vol', 5).map(({ key }) => key)).toEqual(['voltage limit', 'core voltage offset', 'memory voltage'])
  expect(many.suggest('cvo', 5).map(({ key }) => key)).toEqual(['core voltage offset'])
  expect(many.suggest('mem v', 5).map(({ key }) => key)).toEqual(['memory voltage'])
  expect(many.suggest('zz', 5)).toEqual([])
})

test('no two known units differ in nothing but case', () => {
  expect(new Set(UNITS.map(({ symbol }) => symbol.toLowerCase())).size).toBe(UNITS.length)
})
