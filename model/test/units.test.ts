// Units convert by their definitions, and compare as the quantity allows.
import { assert, constantFrom, double, property } from 'fast-check'
import { expect, test } from 'vitest'
import { comparisonOf, convert, findUnit, UNITS, unitText } from '../units.ts'

// By definition: SI brochure (9th edition) for prefixes, min and h; IEC 80000-13 for binary prefixes.
test.each([
  [1, 'h', 's', 3600],
  [90, 'min', 'h', 1.5],
  [1, 'Wh', 'J', 3600],
  [1, 'kJ', 'J', 1000],
  [250, 'us', 'ms', 0.25],
  [1, 'MiB/s', 'B/s', 2 ** 20],
  [1, 'GiB/s', 'MiB/s', 1024],
  [1, 'GB/s', 'MB/s', 1000],
  [4.2, 'GHz', 'MHz', 4200],
  [1250, 'mV', 'V', 1.25],
  [120, '1/min', '1/s', 2],
])('%d %s is %s: %d', (value, from, to, expected) => {
  expect(convert(value, from, to)).toBeCloseTo(expected, 9)
})

test('different quantities, and units nobody knows, do not convert', () => {
  expect(convert(1, 'W', 'J')).toBeUndefined()
  expect(convert(1, 'degC', 'dBA')).toBeUndefined()
  expect(convert(1, 'laps', 'points')).toBeUndefined()
  expect(convert(7, 'laps', 'laps')).toBe(7)
})

test('temperatures and sound levels compare as differences, all else as ratios', () => {
  expect(UNITS.filter((unit) => unit.compares === 'difference').map((unit) => unit.symbol)).toEqual(['degC', 'dBA'])
  expect([comparisonOf('s'), comparisonOf('degC'), comparisonOf('laps')]).toEqual(['ratio', 'difference', 'ratio'])
})

test('converting there and back changes nothing', () => {
  const symbol = constantFrom(...UNITS.map((unit) => unit.symbol))
  assert(
    property(symbol, symbol, double({ min: 1e-6, max: 1e9, noNaN: true }), (from, to, value) => {
      const there = convert(value, from, to)
      if (there === undefined) return
      // Two multiplications and two divisions, each within half an ulp.
      expect(Math.abs((convert(there, to, from) ?? Number.NaN) - value)).toBeLessThanOrEqual(Math.abs(value) * 4 * Number.EPSILON)
    }),
  )
})

test('symbols are unique, and each reads as people write it', () => {
  expect(new Set(UNITS.map((unit) => unit.symbol)).size).toBe(UNITS.length)
  expect([unitText('1'), unitText('degC'), unitText('us'), unitText('fps')]).toEqual(['', '°C', 'µs', 'fps'])
  expect(findUnit('fps')?.quantity).toBe('frame rate')
})
