// The distribution function of Student's t, fractional degrees of freedom included.
//
// Three ranges: the middle by its series (t-central.ts); very large df by the normal with its first correction,
// z = t (1 - 1/(4 df)) / sqrt(1 + t^2/(2 df))  (Abramowitz & Stegun 1964, 26.7.8); else the incomplete beta function (stdlib).

import stdlibTCdf from '@stdlib/stats-base-dists-t-cdf'
import { requireDf, requireNumber } from './check-argument.ts'
import { normalCdf } from './normal-cdf.ts'
import { tCentralProbability } from './t-central.ts'

/**
 * P(T <= t) for Student's t with `df` degrees of freedom (any df > 0; Infinity is the standard normal).
 *
 * Relative accuracy about 1e-12 in either tail as long as the tail is the small side: for the upper tail use tUpperTail(t, df), never 1 - tCdf(t, df).
 * Throws InvalidArgument when t is NaN or df is not above 0.
 *
 * @example tCdf(-2.262157162798205, 9) // 0.025
 */
export function tCdf(t: number, df: number): number {
  requireNumber('t', t)
  requireDf('df', df)
  if (Math.abs(t) === Infinity) return t > 0 ? 1 : 0
  if (df > LARGE_DF) return normalCdf((t * (1 - 1 / (4 * df))) / Math.hypot(1, t / Math.sqrt(2 * df)))
  if (Math.abs(t) <= CENTRAL_LIMIT && t * t <= df * CENTRAL_LIMIT * CENTRAL_LIMIT) return 0.5 + tCentralProbability(t, df)
  return stdlibTCdf(t, df)
}

/** The range in which the series of t-central.ts is stated to hold. */
const CENTRAL_LIMIT = 0.1

/**
 * From here the correction's own error, of relative order t^8 / df^2, is under 1e-11 out to |t| = 37, where the normal tail leaves the doubles.
 * The incomplete beta route still has its digits at 1e12 and has lost them at 1e17.
 */
export const LARGE_DF = 1e12
