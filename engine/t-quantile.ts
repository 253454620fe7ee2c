// Inverse of the distribution function of Student's t.
//
// Three ranges, as in t-cdf.ts: the middle by Newton on the series; very large df by t = z + (z^3 + z) / (4 df), z the normal quantile
// (Abramowitz & Stegun 1964, 26.7.5, first term); else the inverse incomplete beta function (stdlib), which is sound in the tails but not near 1/2.

import stdlibTQuantile from '@stdlib/stats-base-dists-t-quantile'
import { requireDf, requireProbability } from './check-argument.ts'
import { normalQuantile } from './normal-quantile.ts'
import { LARGE_DF } from './t-cdf.ts'
import { tCentralQuantile } from './t-central.ts'

/**
 * The t with tCdf(t, df) = p, for any df > 0 (fractions included; Infinity is the standard normal).
 *
 * Valid for 0 <= p <= 1; the ends give -Infinity and Infinity, and so does a quantile beyond the doubles (p 1e-4 at df 0.01).
 * Relative accuracy about 1e-12. For an upper tail u use -tQuantile(u, df), never tQuantile(1 - u, df).
 * Throws InvalidArgument when p is not a probability or df is not above 0.
 *
 * @example tQuantile(0.975, 7.21) // 2.3507...
 */
export function tQuantile(p: number, df: number): number {
  requireProbability('p', p)
  requireDf('df', df)
  if (p === 0) return -Infinity
  if (p === 1) return Infinity
  const offset = p - 0.5
  if (df > LARGE_DF) {
    const z = normalQuantile(p)
    return z + (z * z * z + z) / (4 * df)
  }
  if (Math.abs(offset) <= CENTRAL_HALF_WIDTH * Math.min(1, df)) return tCentralQuantile(offset, df)
  return stdlibTQuantile(p, df)
}

/** The range in which tCentralQuantile is stated to hold. */
const CENTRAL_HALF_WIDTH = 0.01
