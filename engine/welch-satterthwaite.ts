// Degrees of freedom of a sum of independent variance estimates.
//
//   v = sum v_i,   df = v^2 / sum(v_i^2 / df_i),   v_i = coefficient x mean square
// Sources: F. E. Satterthwaite, Biometrics Bulletin 2 (1946) 110-114; B. L. Welch, Biometrika 34 (1947) 28-35.

import { requireDf, requireFinite } from './check-argument.ts'
import { InvalidArgument } from './invalid-argument.ts'

/** One estimated variance, already multiplied by its coefficient, with the degrees of freedom it rests on. */
export interface VarianceTerm {
  readonly variance: number
  readonly df: number
}

/**
 * The sum of the terms and its Satterthwaite degrees of freedom, which are not rounded.
 *
 * Terms with variance 0 are left out; when all are 0 the result is variance 0 with df the sum of their df. df may be Infinity (a known variance).
 * A negative term is allowed (a mean square subtracted); then df is a poor approximation wherever the sum is near 0, and the sum itself may be negative.
 * Throws InvalidArgument on no terms, a variance that is not finite, or a df not above 0.
 *
 * @example welchSatterthwaite([{ variance: 0.5, df: 3 }, { variance: 0.05, df: 20 }]) // variance 0.55, df 3.6246
 */
export function welchSatterthwaite(terms: readonly VarianceTerm[]): VarianceTerm {
  if (terms.length === 0) throw new InvalidArgument('terms.length', 'at least 1', 0)
  let largest = 0
  let dfSum = 0
  for (const { variance, df } of terms) {
    requireFinite('variance', variance)
    requireDf('df', df)
    largest = Math.max(largest, Math.abs(variance))
    dfSum += df
  }
  if (largest === 0) return { variance: 0, df: dfSum }

  // Scaled by the largest term so that squares of very small variances do not underflow.
  let sum = 0
  let spread = 0
  for (const { variance, df } of terms) {
    const scaled = variance / largest
    sum += scaled
    spread += (scaled * scaled) / df
  }
  return { variance: sum * largest, df: spread === 0 ? Infinity : (sum * sum) / spread }
}
