// Joint confidence: Holm against R.

import * as fc from 'fast-check'
import { expect, test } from 'vitest'
import { holm } from '../index.ts'
import { reference, relativeDifference } from './reference.ts'

const { lists } = reference('joint/holm.json') as { lists: { p: number[]; adjusted: number[] }[] } // shape set by the script beside it

test('Holm agrees with R', () => {
  for (const { p, adjusted } of lists) {
    const got = holm(p)
    expect(got).toHaveLength(p.length)
    adjusted.forEach((want, i) => expect(relativeDifference(got[i], want)).toBeLessThan(1e-15))
  }
})

test('adjusted values keep the order of the p values and lie between p and count x p', () => {
  fc.assert(
    fc.property(fc.array(fc.double({ min: 0, max: 1, noNaN: true }), { maxLength: 12 }), (p) => {
      const adjusted = holm(p)
      for (let i = 0; i < p.length; i++) {
        expect(adjusted[i]).toBeGreaterThanOrEqual(p[i])
        expect(adjusted[i]).toBeLessThanOrEqual(Math.min(1, p.length * p[i]))
        for (let j = 0; j < p.length; j++) if (p[i] <= p[j]) expect(adjusted[i]).toBeLessThanOrEqual(adjusted[j])
      }
    }),
  )
})

test('arguments outside the contract are refused', () => {
  expect(() => holm([0.1, 1.2])).toThrow('pValues[1] must be a probability from 0 to 1; got 1.2')
})
