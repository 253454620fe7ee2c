// The standard normal distribution function.

import stdlibNormalCdf from '@stdlib/stats-base-dists-normal-cdf'
import { requireNumber } from './check-argument.ts'

/**
 * P(Z <= x) for a standard normal Z.
 *
 * Any x, infinities included; relative accuracy about 1e-14 down to the smallest doubles.
 * For the upper tail use normalCdf(-x), never 1 - normalCdf(x). Throws InvalidArgument when x is NaN.
 *
 * @example normalCdf(-1.959963984540054) // 0.025
 */
export function normalCdf(x: number): number {
  requireNumber('x', x)
  return stdlibNormalCdf(x, 0, 1)
}
