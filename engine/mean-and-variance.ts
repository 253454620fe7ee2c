// Mean and variance of one list of numbers in one pass that does not cancel.
//
// Recurrence: B. P. Welford, Technometrics 4 (1962) 419-420.

import { requireAllFinite } from './check-argument.ts'
import { InvalidArgument } from './invalid-argument.ts'

export interface MeanAndVariance {
  readonly count: number
  readonly mean: number
  /** Sum of squared deviations from the mean. */
  readonly sumOfSquares: number
  /** count - 1 */
  readonly df: number
  /** sumOfSquares / df; null for a single value, whose variance nothing tells. */
  readonly variance: number | null
}

/**
 * Mean and variance (divisor count - 1) of at least one finite value.
 *
 * Identical values give exactly 0. Throws InvalidArgument when the list is empty or holds a value that is not finite.
 *
 * @example meanAndVariance([1, 2, 4]).variance // 2.3333
 */
export function meanAndVariance(values: ArrayLike<number>): MeanAndVariance {
  if (values.length === 0) throw new InvalidArgument('values.length', 'at least 1', 0)
  requireAllFinite('values', values)
  let mean = 0
  let sumOfSquares = 0
  for (let i = 0; i < values.length; i++) {
    const fromOldMean = values[i] - mean
    mean += fromOldMean / (i + 1)
    sumOfSquares += fromOldMean * (values[i] - mean)
  }
  const df = values.length - 1
  return { count: values.length, mean, sumOfSquares, df, variance: df > 0 ? sumOfSquares / df : null }
}
