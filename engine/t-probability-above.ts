// How likely a quantity lies above a threshold, given its estimate, standard error and degrees of freedom.

import { requireDf, requireFinite } from './check-argument.ts'
import { InvalidArgument } from './invalid-argument.ts'
import { tCdf } from './t-cdf.ts'

/**
 * P(quantity > threshold) read from the t confidence distribution: tCdf((estimate - threshold) / standardError, df).
 * It is the confidence at which the one-sided lower limit meets the threshold (with a flat prior, the posterior probability).
 *
 * standardError >= 0; with 0 the answer is 1, 0, or 1/2 when the estimate sits on the threshold. For the chance below, pass both signs swapped:
 * tProbabilityAbove(-threshold, -estimate, ...). Throws InvalidArgument on NaN, an infinite estimate or threshold, or df not above 0.
 *
 * @example tProbabilityAbove(0, 1, 0.5, 9) // 0.9617...
 */
export function tProbabilityAbove(threshold: number, estimate: number, standardError: number, df: number): number {
  requireFinite('threshold', threshold)
  requireFinite('estimate', estimate)
  requireDf('df', df)
  if (!(standardError >= 0)) throw new InvalidArgument('standardError', 'at least 0', standardError)
  const distance = estimate - threshold
  if (standardError === 0) return distance > 0 ? 1 : distance < 0 ? 0 : 0.5
  return tCdf(distance / standardError, df)
}
