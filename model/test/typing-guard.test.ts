// Slips of the point, the unit and the step are questioned with the likely mend; plausible values are left alone.
import { describe, expect, test } from 'vitest'
import type { Asked, Setting, SettingKind, Tune } from '../records/tune.ts'
import { knownSettings, settingBook, type KnownSetting } from '../settings/setting-book.ts'
import { doubtsOf, type Doubt } from '../settings/typing-guard.ts'

const id = '0192c2a0-0000-7000-8000-000000000001'
const scalar = (value: number, unit: string): Asked => ({ shape: 'scalar', value, unit })

/** Twelve other tunes have 1.10 to 1.40 V. */
const voltages = [1.1, 1.15, 1.18, 1.2, 1.22, 1.25, 1.27, 1.3, 1.32, 1.35, 1.38, 1.4]

function knownFrom(values: readonly number[], unit: string, kind?: Partial<SettingKind>): KnownSetting {
  const tunes = values.map((value): Tune => ({ kind: 'tune', id, name: 't', settings: [{ key: 'core voltage', scope: { level: 'package' }, asked: scalar(value, unit) }] }))
  const kinds = kind === undefined ? [] : [{ kind: 'setting kind', id, name: 'core voltage', shape: 'scalar', unit, level: 'package', ...kind } as const]
  const known = settingBook(knownSettings({ kinds, tunes })).find('core voltage')
  if (known === undefined) throw new Error('the setting must be known; it is not')
  return known
}

function ask(asked: Asked, known: KnownSetting | null, beside: readonly Setting[] = []): readonly Doubt[] {
  const setting = { key: 'core voltage', scope: { level: 'core', index: '0' } as const, asked }
  return doubtsOf({ setting, known, beside: [setting, ...beside] })
}

describe('against what other tunes have', () => {
  const known = knownFrom(voltages, 'V')

  test('13.5 V is questioned, with 1.35 V as the likely mend and the neighbours as the reason', () => {
    expect(ask(scalar(13.5, 'V'), known)).toEqual([
      { code: 'outside', sentence: 'Did you mean 1.35 V? The other 12 tunes with it have 1.1 to 1.4 V.', mends: [{ text: '1.35 V', asked: scalar(1.35, 'V') }] },
    ])
  })

  test.each<[number, string, string]>([
    [0.135, 'V', '1.35 V'],
    [1350, 'V', '1350 mV'],
    [1.35, 'mV', '1.35 V'],
    [135, 'V', '1.35 V'],
    [-1.25, 'V', '1.25 V'],
  ])('%d %s is questioned; the first mend is one that lies among the neighbours', (value, unit, first) => {
    const [doubt] = ask(scalar(value, unit), known)
    expect(['outside', 'other-sign']).toContain(doubt?.code)
    expect(doubt?.mends[0]?.text).toBe(first)
  })

  test.each([1.1, 1.4, 1.45, 1.05, 1.55, 0.9, 0])('%d V, at or a little beyond the neighbours, is left alone', (value) => expect(ask(scalar(value, 'V'), known)).toEqual([]))

  test('the same voltage in millivolts is left alone', () => expect(ask(scalar(1350, 'mV'), known)).toEqual([]))

  test('a unit of another quantity, a missing and an unknown unit are questioned', () => {
    expect(ask(scalar(1.25, 'W'), known)).toMatchObject([{ code: 'other-quantity', mends: [{ text: '1.25 V' }] }])
    expect(ask(scalar(1.25, ''), known)).toMatchObject([{ code: 'unit-missing', mends: [{ text: '1.25 V' }] }])
    expect(ask(scalar(1.25, 'vv'), known)).toMatchObject([{ code: 'unit-unknown', sentence: 'No unit here is called "vv". Did you mean 1.25 V?' }])
  })

  test('letters typed for figures are questioned, with the figures as the mend', () => {
    expect(ask(scalar(64, 'OO'), knownFrom([5600, 6200], 'MT/s'))).toMatchObject([{ code: 'unit-unknown', mends: [{ asked: scalar(6400, 'MT/s') }] }])
    expect(ask(scalar(1.3, 'l'), known)).toMatchObject([{ mends: [{ asked: scalar(1.31, 'V') }] }])
  })

  test('gigahertz for megahertz is questioned', () => {
    expect(ask(scalar(5.4, 'MHz'), knownFrom([5200, 5300, 5500], 'MHz'))).toMatchObject([{ code: 'outside', mends: [{ text: '5.4 GHz' }, { text: '5400 MHz' }] }])
    expect(ask(scalar(5400, 'GHz'), knownFrom([5200, 5300, 5500], 'MHz'))).toMatchObject([{ code: 'outside', mends: [{ text: '5400 MHz' }, { text: '5.4 GHz' }] }])
  })

  test('a word where figures are is questioned, and near "auto" it is offered', () => {
    expect(ask({ shape: 'mode', mode: 'aut' }, known)).toMatchObject([{ code: 'not-a-figure', mends: [{ text: 'auto' }] }])
  })

  test('auto and unchanged are never questioned', () => expect([ask({ shape: 'auto' }, known), ask({ shape: 'unchanged' }, known)]).toEqual([[], []]))
})

test('with an offset of the other sign than all others, the sign is questioned; across zero it is not', () => {
  expect(ask(scalar(25, 'mV'), knownFrom([-40, -35, -30, -25, -20, -10], 'mV'))).toMatchObject([{ code: 'other-sign', mends: [{ text: '\u221225 mV' }] }])
  expect(ask(scalar(25, 'mV'), knownFrom([-40, -25, 0], 'mV'))).toEqual([])
  // Three tunes are too few to say that an offset never goes up.
  expect(ask(scalar(25, 'mV'), knownFrom([-40, -25, -10], 'mV'))).toEqual([])
  expect(ask(scalar(-250, 'mV'), knownFrom([-40, -25, 0], 'mV'))).toMatchObject([{ code: 'outside', mends: [{ text: '\u221225 mV' }, { text: '\u22122.5 mV' }] }])
})

test('outside the range that a person confirmed, even a little is questioned', () => {
  const known = knownFrom([], 'V', { usualLow: 0.9, usualHigh: 1.4 })
  expect(ask(scalar(1.45, 'V'), known)).toMatchObject([{ code: 'outside', sentence: 'It is usually 0.9 to 1.4 V.', mends: [] }])
  expect(ask(scalar(1.4, 'V'), known)).toEqual([])
  expect(ask(scalar(1400, 'mV'), known)).toEqual([])
})

test('a value between two steps is questioned with the nearer step first, whatever its unit', () => {
  const known = knownFrom([1.25], 'V', { step: 0.005 })
  expect(ask(scalar(1.253, 'V'), known)).toMatchObject([{ code: 'off-step', sentence: '1.253 V lies between two steps of 0.005 V. Did you mean 1.255 V or 1.25 V?', mends: [{ text: '1.255 V' }, { text: '1.25 V' }] }])
  expect(ask(scalar(1253, 'mV'), known)).toMatchObject([{ mends: [{ text: '1255 mV' }, { text: '1250 mV' }] }])
})

test('every multiple of a step lies on it', () => {
  const known = knownFrom([1.25], 'V', { step: 0.005 })
  for (let steps = 190; steps <= 300; steps++) {
    expect(ask(scalar(Number((steps * 0.005).toFixed(3)), 'V'), known)).toEqual([])
    expect(ask(scalar(steps * 5, 'mV'), known)).toEqual([])
  }
})

test('other places of the same tune are neighbours where nothing else is known', () => {
  const beside = ['1', '2', '3'].map((index): Setting => ({ key: 'core voltage', scope: { level: 'core', index }, asked: scalar(1.2 + Number(index) / 100, 'V') }))
  expect(ask(scalar(12.2, 'V'), null, beside)).toMatchObject([{ code: 'outside', sentence: 'Did you mean 1.22 V? The other 3 places have 1.21 to 1.23 V.' }])
  expect(ask(scalar(1.3, 'V'), null, beside)).toEqual([])
})

const rows = (fourth: number): Asked => ({ shape: 'table', rows: [[1, 58], [2, 57], [4, 56], [6, fourth], [8, 54]], unit: '' })

test('one row of a table that stands out is questioned and mended alone', () => {
  expect(ask(rows(550), null)).toMatchObject([{ code: 'outside', sentence: '550 stands out. Did you mean 55? The other rows have 56 to 58.', mends: [{ asked: rows(55) }] }])
  expect(ask(rows(55), null)).toEqual([])
})

test('a key that nobody has used yet has nothing to be held against', () => expect(ask(scalar(1350, 'V'), null)).toEqual([]))
