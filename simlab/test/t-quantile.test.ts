import { describe, expect, it } from 'vitest'
import { upperQuantile } from '../t-quantile.ts'

describe('upperQuantile', () => {
  // Closed forms: df 1 is tan(0.475 pi); df 2 is 2 (0.475) sqrt(2 / (1 - (2 x 0.475)^2)).
  it.each([
    [1, Math.tan(0.475 * Math.PI)],
    [2, 0.95 * Math.sqrt(2 / (1 - 0.95 ** 2))],
  ])('equals the closed form at df %d', (df, expected) => {
    expect(Math.abs(upperQuantile(df) / expected - 1)).toBeLessThan(1e-9)
  })

  // R 4.2.2: print(qt(.975, c(3, 5, 10, 30, 59, 61, 200, 1e6)), digits = 12); 12 digits are printed.
  it.each([
    [3, 3.18244630528], [5, 2.57058183564], [10, 2.22813885199], [30, 2.0422724563], [59, 2.00099537809], [61, 1.99962358499], [200, 1.97189622363],
    [1e6, 1.95996635681],
  ])('equals R at df %d', (df, expected) => {
    expect(Math.abs(upperQuantile(df) / expected - 1)).toBeLessThan(1e-9)
  })

  it('is the normal quantile for infinitely many degrees of freedom', () => {
    expect(upperQuantile(Infinity)).toBe(1.959963984540054)
  })

  it('refuses less than one degree of freedom', () => {
    expect(() => upperQuantile(0.5)).toThrow('df must be at least 1; got 0.5')
  })
})
