// The upper tail of Student's t, exact where 1 - cdf would be rounding noise.

import { tCdf } from './t-cdf.ts'

/**
 * P(T > t) for Student's t with `df` degrees of freedom (any df > 0; Infinity is the standard normal).
 *
 * By symmetry tCdf(-t, df), so a tail of 1e-200 keeps its digits. Throws as tCdf does.
 *
 * @example tUpperTail(34.8015484318404, 7) // 2.0978e-9
 */
export function tUpperTail(t: number, df: number): number {
  return tCdf(-t, df)
}
