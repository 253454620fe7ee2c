// From runs to the unit of analysis: the mean of log scores for each start and workload, oriented so that more is better.
import { COMPARABLE_OUTCOMES, NEUTRAL_OUTCOMES, type GainSnapshot, type GainWorkload } from '@guardband/model'

export interface Cells {
  readonly startCount: number
  readonly workloadCount: number
  /** startCount x workloadCount, row by row: mean oriented score; 0 where `count` is 0. */
  readonly mean: Float64Array
  /** Scored runs behind each mean. */
  readonly count: Int32Array
  /** Runs that ended without a score that counts, by side and workload: [side][workload]. */
  readonly failed: readonly [Int32Array, Int32Array]
  readonly scored: readonly [Int32Array, Int32Array]
  readonly failedRuns: readonly FailedRun[]
  /** Runs a person set aside. */
  readonly setAside: readonly string[]
  /** Runs whose measure can't be compared: zero or negative where a ratio is asked for, or missing. */
  readonly unusable: readonly UnusableRun[]
  /** Median seconds of a run that gave a score, per workload; null where none is recorded. */
  readonly seconds: readonly (number | null)[]
}

export interface FailedRun {
  readonly id: string
  readonly side: 0 | 1
  readonly workload: number
  readonly outcome: string
}

export interface UnusableRun {
  readonly id: string
  readonly side: 0 | 1
  readonly workload: number
  readonly value: number | null
}

/** The score of one run on the scale computed on: natural log for ratios, the value itself for differences; negated where lower is better. */
export function oriented(value: number, workload: Pick<GainWorkload, 'compares' | 'direction'>): number {
  const scaled = workload.compares === 'ratio' ? Math.log(value) : value
  return workload.direction === 'higher is better' ? scaled : -scaled
}

/** Means per start and workload with the counts behind them. Runs set aside take no part; failed runs are counted, never averaged. */
export function buildCells(snapshot: GainSnapshot): Cells {
  const startCount = snapshot.starts.length
  const workloadCount = snapshot.workloads.length
  const mean = new Float64Array(startCount * workloadCount)
  const count = new Int32Array(startCount * workloadCount)
  const failed: [Int32Array, Int32Array] = [new Int32Array(workloadCount), new Int32Array(workloadCount)]
  const scored: [Int32Array, Int32Array] = [new Int32Array(workloadCount), new Int32Array(workloadCount)]
  const failedRuns: FailedRun[] = []
  const setAside: string[] = []
  const unusable: UnusableRun[] = []
  const { runs } = snapshot
  for (let index = 0; index < runs.id.length; index++) {
    const id = runs.id[index]
    const workload = runs.workload[index]
    const start = runs.start[index]
    const side = snapshot.starts[start].side
    if (runs.setAside[index] !== null) {
      setAside.push(id)
      continue
    }
    const outcome = runs.outcome[index]
    if (NEUTRAL_OUTCOMES.has(outcome)) continue
    if (!COMPARABLE_OUTCOMES.has(outcome)) {
      failed[side][workload] += 1
      failedRuns.push({ id, side, workload, outcome })
      continue
    }
    const value = runs.value[index]
    if (value === null || !isComparable(value, snapshot.workloads[workload])) {
      unusable.push({ id, side, workload, value })
      failed[side][workload] += 1
      continue
    }
    const cell = start * workloadCount + workload
    count[cell] += 1
    // Running mean: exact for equal scores, so that ties stay ties.
    mean[cell] += (oriented(value, snapshot.workloads[workload]) - mean[cell]) / count[cell]
    scored[side][workload] += 1
  }
  return { startCount, workloadCount, mean, count, failed, scored, failedRuns, setAside, unusable, seconds: medianSeconds(snapshot) }
}

/** A ratio needs a value above zero; a difference one whose square is still a number. */
export function isComparable(value: number, workload: Pick<GainWorkload, 'compares'>): boolean {
  return Number.isFinite(value) && (workload.compares === 'difference' ? Math.abs(value) <= MOST_DIFFERENCE : value > 0)
}

/** Past any temperature or sound level: such an entry is a slip of the keyboard. */
const MOST_DIFFERENCE = 1e12

function medianSeconds(snapshot: GainSnapshot): (number | null)[] {
  const byWorkload: number[][] = snapshot.workloads.map(() => [])
  snapshot.runs.seconds.forEach((seconds, row) => {
    const counts = snapshot.runs.setAside[row] === null && COMPARABLE_OUTCOMES.has(snapshot.runs.outcome[row])
    if (counts && seconds !== null && seconds >= 0) byWorkload[snapshot.runs.workload[row]].push(seconds)
  })
  return byWorkload.map((list) => (list.length === 0 ? null : median(list)))
}

/** Median of a non-empty list. */
export function median(values: readonly number[]): number {
  const sorted = values.toSorted((a, b) => a - b)
  const middle = sorted.length >> 1
  return sorted.length % 2 === 1 ? sorted[middle] : (sorted[middle - 1] + sorted[middle]) / 2
}
