// The variance that an instrument's step adds to log scores, and at which level of the design it is shared.
//
// A rounding error is spread evenly over one step: variance step^2 / 12 (JCGM 100:2008, F.2.2.1). Noise of half a step or more below a level makes
// the errors of that level's members independent (W. Sheppard, 1898; B. Widrow, I. Kollar, Quantization Noise, 2008); less leaves them in common.
import type { Scenario, Spreads } from './scenario.ts'

export interface Rounding {
  /** Shared by all starts of a sample on a side. */
  readonly sampleSide: number
  /** Shared by all repeats of a start. */
  readonly start: number
  /** A run's own. */
  readonly run: number
}

/** `level` is the lab's own log level of the workload, higher is better: a step weighs more on a smaller value. */
export function rounding(spreads: Spreads, workload: Scenario['design']['workloads'][number], level: number, side: 0 | 1): Rounding {
  if (workload.resolution === undefined) return NONE
  const logScore = level + side * workload.gain
  const step = workload.resolution / Math.exp(workload.direction === 'higher is better' ? logScore : -logScore)
  const variance = step ** 2 / EVEN_SPREAD
  const factor = side === 1 ? spreads.startFactorB : 1
  const betweenStarts = Math.hypot(factor * spreads.start, factor * spreads.startWorkload, spreads.repeat)
  if (betweenStarts < step / 2) return { ...NONE, sampleSide: variance }
  if (spreads.repeat < step / 2) return { ...NONE, start: variance }
  return { ...NONE, run: variance }
}

const NONE: Rounding = { sampleSide: 0, start: 0, run: 0 }
/** Variance of an even spread over one step, in steps squared, is 1 / 12. */
const EVEN_SPREAD = 12
