// The step at which an instrument prints, where scores tie at it, and the least variance that rounding leaves in a mean.
//
// A value printed in steps of r carries a rounding error spread evenly over r, variance r^2/12 (JCGM 100:2008, F.2.2.1). Starts that all
// round to the same figure share that error, so no number of starts makes it smaller: a sample x side mean has at least that variance.
import { COMPARABLE_OUTCOMES, type GainSnapshot } from '@guardband/model'
import { isComparable } from './cells.ts'

export interface Resolution {
  /** Rounding variance on the scale computed on. */
  readonly variance: number
  /** True when there are at most half as many different scores as scores. */
  readonly ties: boolean
  /** Step in the measure's unit. */
  readonly step: number
}

/** Per workload: the declared step, or the one that ties betray, or null where nothing speaks for rounding. */
export function resolutions(snapshot: GainSnapshot): readonly (Resolution | null)[] {
  return snapshot.workloads.map((workload, index) => {
    const values: number[] = []
    snapshot.runs.workload.forEach((at, row) => {
      const value = snapshot.runs.value[row]
      if (at === index && value !== null && snapshot.runs.setAside[row] === null && COMPARABLE_OUTCOMES.has(snapshot.runs.outcome[row]) && isComparable(value, workload)) values.push(value)
    })
    if (values.length < 2) return null
    const distinct = [...new Set(values)].sort((a, b) => a - b)
    const ties = distinct.length * 2 <= values.length
    if (workload.resolution === undefined && !ties) return null
    const step = workload.resolution ?? inferredStep(distinct)
    const center = distinct.reduce((mean, value, place) => mean + (value - mean) / (place + 1), 0)
    const relative = workload.compares === 'ratio' ? step / center : step
    return { variance: relative ** 2 / UNIFORM_DIVISOR, ties, step }
  })
}

/** Variance of a uniform spread of width 1 is 1/12. */
const UNIFORM_DIVISOR = 12

/** The smallest gap between different scores; where all are equal, one unit of the last decimal that is printed. */
function inferredStep(distinct: readonly number[]): number {
  let smallest = Number.POSITIVE_INFINITY
  for (let index = 1; index < distinct.length; index++) smallest = Math.min(smallest, distinct[index] - distinct[index - 1])
  if (Number.isFinite(smallest)) return smallest
  const [digits, exponent] = distinct[0].toExponential().split('e')
  const decimals = (digits.split('.')[1] ?? '').length - Number(exponent)
  return 10 ** -Math.max(0, decimals)
}
