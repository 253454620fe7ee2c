// Where a line of text may break and where it may not.
import { describe, expect, test } from 'vitest'
import { keepTogether } from '../visible-text.ts'

const NBSP = '\u00a0'

describe('a figure and its unit', () => {
  test.each([
    ['+1.0 % overall, between 0.3 and 1.7 %', `+1.0${NBSP}% overall, between 0.3 and 1.7${NBSP}%`],
    ['about 2 h 10 min more', `about 2${NBSP}h 10${NBSP}min more`],
    ['35 °C, 28 dBA, 95 W.', `35${NBSP}°C, 28${NBSP}dBA, 95${NBSP}W.`],
    ['fixed on 2 November 2026', `fixed on 2${NBSP}November${NBSP}2026`],
    ['1 board \u00b7 12 starts', `1 board${NBSP}\u00b7 12 starts`],
    ['74 EUR (81 GB/s)', `74${NBSP}EUR (81${NBSP}GB/s)`],
  ])('stay on one line: %s', (text, kept) => {
    expect(keepTogether(text)).toBe(kept)
  })

  test.each(['5 of 6 workloads', 'Marram 6200 and 5600', '14 weeks', '3 samples, 12 starts', 'A 95'])('words after a count may part from it: %s', (text) => {
    expect(keepTogether(text)).toBe(text)
  })
})
