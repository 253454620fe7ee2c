// A difference is readable: a sentence first, signed changes in the unit and in percent, tables by place; units that say the same are no difference.
import { describe, expect, test } from 'vitest'
import type { Asked, Setting, SettingInForce, SettingValue } from '../records/tune.ts'
import { appliedOf } from '../settings/applied.ts'
import { differenceOf, inSeries, sameAsked } from '../settings/differences.ts'

const scalar = (value: number, unit: string): SettingValue => ({ shape: 'scalar', value, unit })
const at = (key: string, asked: Asked, scope: Setting['scope'] = { level: 'machine' }): Setting => ({ key, scope, asked })
const diff = (a: readonly Setting[], b: readonly Setting[]) => differenceOf({ a: { name: 'House', settings: a }, b: { name: 'Quick', settings: b } })
const table = (rows: [number, number][]): Asked => ({ shape: 'table', rows, unit: '' })
const inForce = (key: string, value: SettingValue): SettingInForce => ({ key, scope: { level: 'machine' }, value, known: 'read back' })

test('the sentence names what differs, the text gives every row', () => {
  const found = diff(
    [at('package power limit', scalar(95, 'W'), { level: 'package' }), at('core voltage', { shape: 'auto' }, { level: 'core', index: '3' }), at('fan policy', { shape: 'mode', mode: 'quiet' }), at('old', scalar(1, ''))],
    [at('Package  power limit', scalar(120, 'W'), { level: 'package' }), at('core voltage', scalar(1.25, 'V'), { level: 'core', index: '3' }), at('fan policy', { shape: 'mode', mode: 'Quiet' }), at('new', scalar(2, 'ns'))],
  )
  expect(found.sentence).toBe('Quick differs from House in 4 settings: Package  power limit +25 W to 120 W, core voltage of core 3 1.25 V instead of auto, old no longer asked for, new 2 ns.')
  expect(found.same).toBe(1)
  expect(found.groups.map(({ name }) => name)).toEqual(['Machine', 'Package', 'Core'])
  expect(found.text.split('\n')).toContain('  Package  power limit: 95 W → 120 W  +25 W, +26 %')
  expect(found.text.split('\n')).toContain('  old: 1 → not asked for')
})

test('changes with commas of their own are parted by semicolons, plain ones by commas', () => {
  expect(inSeries(['limit 95 W', 'rate 6200 MT/s'], 0)).toBe('limit 95 W, rate 6200 MT/s')
  expect(inSeries(['ratio 2: 55, 4: 53', 'limit 95 W'], 3)).toBe('ratio 2: 55, 4: 53; limit 95 W; and 3 more')
})

test.each<[SettingValue, SettingValue, string, string]>([
  [scalar(1.25, 'V'), scalar(1275, 'mV'), '+25 mV', '+2.0 %'],
  [scalar(0.1, 'V'), scalar(0.3, 'V'), '+0.2 V', '+200 %'],
  [scalar(-40, 'mV'), scalar(-25, 'mV'), '+15 mV', ''],
  [scalar(80, 'degC'), scalar(90, 'degC'), '+10 °C', ''],
  [scalar(40, '%'), scalar(60, '%'), '+20 %', ''],
  [scalar(5.4, 'GHz'), scalar(5.2, 'GHz'), '\u22120.2 GHz', '\u22123.7 %'],
  [scalar(8192, ''), scalar(65535, ''), '+57\u202f343', '8 times'],
  [scalar(0, 'mV'), scalar(5, 'mV'), '+5 mV', ''],
])('%j to %j is %s, %s', (a, b, change, percent) => {
  expect(diff([at('x', a)], [at('x', b)]).groups[0]?.rows[0]).toMatchObject({ change, percent })
})

test('a table is compared place by place, the same places left out', () => {
  const found = diff([at('core ratio', table([[1, 58], [2, 56], [8, 54]]))], [at('core ratio', table([[1, 59], [2, 56], [12, 52]]))])
  expect(found.groups[0]?.rows[0]?.points).toEqual([
    { at: '1', a: '58', b: '59', change: '+1', percent: '+1.7 %' },
    { at: '8', a: '54', b: null, change: '', percent: '' },
    { at: '12', a: null, b: '52', change: '', percent: '' },
  ])
  expect(found.sentence).toBe('Quick differs from House in 1 setting: core ratio at 3 places.')
})

describe('the same in other words is no difference', () => {
  test.each<[Asked, Asked]>([
    [scalar(1.25, 'V'), scalar(1250, 'mV')],
    [scalar(54, '1'), scalar(54, '')],
    [{ shape: 'mode', mode: 'On' }, { shape: 'mode', mode: 'on' }],
    [{ shape: 'curve', points: [[0.8, 3.2]], unit: 'GHz', atUnit: 'V' }, { shape: 'curve', points: [[800, 3200]], unit: 'MHz', atUnit: 'mV' }],
  ])('%j and %j', (a, b) => expect([sameAsked(a, b), sameAsked(b, a)]).toEqual([true, true]))

  test.each<[Asked, Asked]>([
    [scalar(1.25, 'V'), scalar(1.2501, 'V')],
    [scalar(54, ''), { shape: 'auto' }],
    [scalar(54, ''), { shape: 'mode', mode: '54' }],
    [scalar(54, 'W'), scalar(54, 'A')],
    [{ shape: 'table', rows: [[1, 2]], unit: '' }, { shape: 'table', rows: [[1, 2], [2, 2]], unit: '' }],
  ])('%j and %j are not', (a, b) => expect([sameAsked(a, b), sameAsked(b, a)]).toEqual([false, false]))
})

test('two tunes that ask for the same say so, and unchanged counts as not asked', () => {
  expect(diff([at('x', scalar(1, 'V')), at('y', { shape: 'unchanged' })], [at('x', scalar(1000, 'mV'))]).sentence).toBe('Quick and House ask for the same: one setting.')
})

test('asked is not applied: what came otherwise, what auto came to, and what nobody looked at', () => {
  const found = appliedOf({
    asked: [at('core voltage', scalar(1.25, 'V')), at('memory voltage', { shape: 'auto' }), at('core ratio', scalar(54, '')), at('fan policy', { shape: 'mode', mode: 'quiet' })],
    inForce: [inForce('core voltage', scalar(1300, 'mV')), inForce('memory voltage', scalar(1.35, 'V')), inForce('core ratio', scalar(54, '')), inForce('bus clock', scalar(100, 'MHz'))],
  })
  expect(found.sentence).toBe('Asked is not applied in 1 setting of 3: core voltage is 1300 mV (read back) where 1.25 V was asked. One more was asked for and not looked at.')
  expect(found).toMatchObject({ asAsked: 1, besides: 1, autos: [{ key: 'memory voltage', value: '1.35 V', known: 'read back' }], unseen: [{ key: 'fan policy', asked: 'quiet' }] })
  expect(found.otherwise[0]).toMatchObject({ change: '+50 mV', percent: '+4.0 %' })
})
