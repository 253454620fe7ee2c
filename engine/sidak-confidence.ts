// The confidence each of several intervals needs so that all of them hold together with a given one.
//
//   each = joint^(1/count): exact for independent intervals; for t intervals of one normal fit, whatever the correlation, the joint confidence is at least that.
// Source: Z. Sidak, J. Amer. Statist. Assoc. 62 (1967) 626-633.

import { InvalidArgument } from './invalid-argument.ts'

/**
 * Confidence for each of `count` two-sided intervals that makes their joint confidence at least `joint`.
 *
 * 0 < joint < 1; count a whole number from 1. Throws InvalidArgument otherwise.
 *
 * @example sidakConfidence(0.95, 10) // 0.99488
 */
export function sidakConfidence(joint: number, count: number): number {
  if (!(joint > 0 && joint < 1)) throw new InvalidArgument('joint', 'above 0 and below 1', joint)
  if (!(Number.isInteger(count) && count >= 1)) throw new InvalidArgument('count', 'a whole number from 1', count)
  return joint ** (1 / count)
}
