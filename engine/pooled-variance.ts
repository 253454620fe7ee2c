// One variance from several groups whose means may differ.

import { meanAndVariance } from './mean-and-variance.ts'

export interface PooledVariance {
  /** Sum over groups of squared deviations from the group's own mean, divided by df; null when df is 0. */
  readonly variance: number | null
  /** Sum over groups of (values - 1). */
  readonly df: number
}

/**
 * The variance within groups, taken as common to all of them. A group with one value adds nothing, an empty group is skipped.
 *
 * Throws InvalidArgument when a value is not finite.
 *
 * @example pooledVariance([[1, 3], [10, 10, 13]]) // variance 2.6667, df 3
 */
export function pooledVariance(groups: readonly ArrayLike<number>[]): PooledVariance {
  let sumOfSquares = 0
  let df = 0
  for (const values of groups) {
    if (values.length === 0) continue
    const group = meanAndVariance(values)
    sumOfSquares += group.sumOfSquares
    df += group.df
  }
  return { variance: df > 0 ? sumOfSquares / df : null, df }
}
