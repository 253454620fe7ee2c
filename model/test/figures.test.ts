// The rules by which numbers are shown to people.
import { array, assert, double, integer, property, tuple } from 'fast-check'
import { describe, expect, test } from 'vitest'
import { chanceText, counted, decimalsFor, exact, fixed, intervalText, minutesText, signed } from '../figures.ts'

const MINUS = '\u2212'
const THIN = '\u202f'

/** A shown figure back as a number. */
function read(text: string): number {
  return Number(text.replace(MINUS, '-').replaceAll(THIN, ''))
}

describe('a number that was set', () => {
  test.each([
    [54, '54'],
    [1.0625, '1.0625'],
    [-0.04, `${MINUS}0.04`],
    [-0, '0'],
    [1e-7, '0.0000001'],
    [1.5e-9, '0.0000000015'],
    [32000, `32${THIN}000`],
    [Number.NaN, 'not known'],
  ])('%d reads %s', (value, text) => {
    expect(exact(value)).toBe(text)
  })

  test('keeps every digit, whatever the number', () => {
    assert(property(double({ noNaN: true, noDefaultInfinity: true, min: -1e20, max: 1e20 }), (value) => Number.isFinite(read(exact(value))) && (Math.abs(value) < 1e-80 || read(exact(value)) === value)))
  })
})

describe('decimals follow the uncertainty', () => {
  // By the rule itself: the first digit of the half-width lands in the last place; one place more when that digit is 1 or 2.
  test.each([
    [0.14, 2],
    [0.29, 2],
    [0.3, 1],
    [0.5, 1],
    [0.99, 1],
    [1, 1],
    [2.9, 1],
    [3, 0],
    [12, 0],
    [3000, 0],
    [0.03, 2],
    [0.02, 3],
    [0.001, 4],
    [1e-9, 6],
  ])('a half-width of %d gives %d decimals', (halfWidth, decimals) => {
    expect(decimalsFor(halfWidth)).toBe(decimals)
  })

  test('without a width there is one decimal', () => {
    for (const halfWidth of [0, -1, Number.NaN, Number.POSITIVE_INFINITY]) expect(decimalsFor(halfWidth)).toBe(1)
  })

  test('rounding by the rule moves an end by at most a sixth of the half-width', () => {
    // Half a unit of the last place against at least 3 units of it (or 10 of it, where one more place is spent).
    assert(
      property(double({ min: 1e-5, max: 1, noNaN: true }), (halfWidth) => {
        expect(0.5 * 10 ** -decimalsFor(halfWidth)).toBeLessThanOrEqual(halfWidth / 6 + 1e-12)
      }),
    )
  })
})

describe('one number', () => {
  test('the minus is a true minus, and nothing prints as minus zero', () => {
    expect(fixed(-1.25, 1)).toBe(`${MINUS}1.3`)
    expect(fixed(-0.04, 1)).toBe('0.0')
    expect(fixed(-0, 0)).toBe('0')
    expect(signed(-0.004, 2)).toBe('0.00')
  })

  test('thousands stand apart by narrow spaces from five digits on', () => {
    expect(fixed(1234, 0)).toBe('1234')
    expect(fixed(12345.678, 2)).toBe(`12${THIN}345.68`)
    expect(fixed(-1234567, 0)).toBe(`${MINUS}1${THIN}234${THIN}567`)
  })

  test('no figure has an exponent, however large or small', () => {
    expect(fixed(1e21, 0)).toBe(`1${`${THIN}000`.repeat(7)}`)
    expect(fixed(1e-9, 3)).toBe('0.000')
    assert(
      property(double({ noNaN: true, noDefaultInfinity: true }), integer({ min: 0, max: 6 }), (value, decimals) => {
        expect(fixed(value, decimals)).toMatch(/^\u2212?[\d\u202f]+(\.\d+)?$/)
      }),
    )
  })

  test('what is no number is not known', () => {
    for (const value of [Number.NaN, Number.POSITIVE_INFINITY, Number.NEGATIVE_INFINITY]) expect(fixed(value, 1)).toBe('not known')
  })

  test('a plus stands before what prints above zero, and before nothing else', () => {
    expect([signed(1.8, 1), signed(0, 1), signed(0.04, 1), signed(-1.8, 1)]).toEqual(['+1.8', '0.0', '0.0', `${MINUS}1.8`])
  })

  test('a figure read back lies within half a unit of its last place', () => {
    assert(
      property(double({ min: -1e6, max: 1e6, noNaN: true }), integer({ min: 0, max: 6 }), (value, decimals) => {
        expect(Math.abs(read(fixed(value, decimals)) - value)).toBeLessThanOrEqual(0.5 * 10 ** -decimals + 1e-9)
      }),
    )
  })
})

describe('an interval', () => {
  test('value and ends share the decimals that the half-width supports', () => {
    expect(intervalText({ value: 1.8123, low: 1.3123, high: 2.3123, signs: 'plus' })).toEqual({ value: '+1.8', low: '1.3', high: '2.3', decimals: 1 })
    expect(intervalText({ value: -1.8, low: -13.4, high: 9.8 })).toEqual({ value: `${MINUS}2`, low: `${MINUS}13`, high: '10', decimals: 0 })
  })

  test('an end beside a limit gets the decimals to show on which side it lies', () => {
    expect(intervalText({ value: 1.5, low: 1.04, high: 1.96, limits: [0, 1] })).toMatchObject({ low: '1.04', decimals: 2 })
    expect(intervalText({ value: 1.5, low: 0.96, high: 2.04, limits: [0, 1] })).toMatchObject({ low: '0.96', decimals: 2 })
    expect(intervalText({ value: 0.5, low: 0.004, high: 0.996, limits: [0, 1] })).toMatchObject({ low: '0.004', high: '0.996', decimals: 3 })
  })

  test('an end just below zero does not print as zero', () => {
    expect(intervalText({ value: 0.5, low: -0.01, high: 1.01, limits: [0] })).toMatchObject({ low: `${MINUS}0.01`, decimals: 2 })
  })

  test('an end on a limit prints as the limit, without spare decimals', () => {
    expect(intervalText({ value: 1.5, low: 1, high: 2, limits: [0, 1] })).toMatchObject({ low: '1.0', high: '2.0', decimals: 1 })
    expect(intervalText({ value: 0.5, low: -0, high: 1, limits: [0, 1] })).toMatchObject({ low: '0.0', decimals: 1 })
  })

  test('printed ends never lie on the other side of a limit, and on it only where two spare decimals were not enough', () => {
    const limits = [-1, -0.5, 0, 0.5, 1, 3]
    const near = tuple(integer({ min: 0, max: limits.length - 1 }), double({ min: -0.02, max: 0.02, noNaN: true })).map(([index, off]) => limits[index] + off)
    assert(
      property(near, double({ min: 0.001, max: 20, noNaN: true }), (low, width) => {
        const high = low + width
        const text = intervalText({ value: (low + high) / 2, low, high, limits })
        for (const [end, shown] of [[low, read(text.low)], [high, read(text.high)]]) {
          for (const limit of limits) {
            // Only a limit that these decimals can print stands beside the end as a figure.
            if (Math.abs(Number(limit.toFixed(text.decimals)) - limit) > 1e-12) continue
            const truth = Math.sign(end - limit)
            const told = Math.sign(Number((shown - limit).toFixed(9)))
            if (told === 0 && truth !== 0) {
              expect(text.decimals).toBe(decimalsFor(width / 2) + 2)
              expect(Math.abs(end - limit)).toBeLessThanOrEqual(0.5 * 10 ** -text.decimals + 1e-9)
            } else {
              expect(told).toBe(truth)
            }
          }
        }
      }),
      { numRuns: 2000 },
    )
  })

  test('the printed value lies within the printed ends', () => {
    assert(
      property(array(double({ min: -1000, max: 1000, noNaN: true }), { minLength: 3, maxLength: 3 }), (numbers) => {
        const [low, value, high] = numbers.toSorted((a, b) => a - b)
        const text = intervalText({ value, low, high, limits: [0, 1] })
        expect(read(text.low)).toBeLessThanOrEqual(read(text.value))
        expect(read(text.value)).toBeLessThanOrEqual(read(text.high))
      }),
    )
  })
})

describe('minutes', () => {
  test.each([
    [0, '0 min'],
    [-3, '0 min'],
    [0.2, '1 min'],
    [40, '40 min'],
    [40.0000001, '40 min'],
    [40.2, '41 min'],
    [119, '119 min'],
    [119.5, '2 h'],
    [130, '2 h 10 min'],
    [180, '3 h'],
    [600_000, `10${THIN}000 h`],
  ])('%d is %s', (minutes, text) => {
    expect(minutesText(minutes)).toBe(text)
  })

  test('they are never promised shorter than they are', () => {
    assert(
      property(double({ min: 0, max: 100_000, noNaN: true }), (minutes) => {
        const [, hours = '0'] = /([\d\u202f]+) h/.exec(minutesText(minutes)) ?? []
        const [, rest = '0'] = /([\d\u202f]+) min/.exec(minutesText(minutes)) ?? []
        expect(read(hours) * 60 + read(rest)).toBeGreaterThanOrEqual(minutes - 1e-5)
      }),
    )
  })

  test('what is no number is not known', () => {
    expect(minutesText(Number.NaN)).toBe('not known')
  })
})

describe('chances and counts', () => {
  test('a chance never claims none or all', () => {
    expect([0, 0.0099, 0.01, 0.08, 0.5, 0.99, 0.9901, 1].map(chanceText)).toEqual(['under 1 %', 'under 1 %', '1 %', '8 %', '50 %', '99 %', 'over 99 %', 'over 99 %'])
    expect(chanceText(Number.NaN)).toBe('not known')
  })

  test('a count agrees with its noun', () => {
    expect([counted(1, 'start'), counted(0, 'start'), counted(12, 'start'), counted(2, 'power-on', 'powers-on'), counted(12345, 'run')]).toEqual(['1 start', '0 starts', '12 starts', '2 powers-on', `12${THIN}345 runs`])
  })
})
