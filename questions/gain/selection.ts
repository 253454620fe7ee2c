// Which samples and workloads can carry an estimate, and what had to be left out of it and why.
import type { GainSnapshot } from '@guardband/model'
import type { Cells } from './cells.ts'

export interface Selection {
  /** Workload indices that count, in the snapshot's order. */
  readonly columns: readonly number[]
  /** Weights of `columns`, summing to 1. */
  readonly weights: readonly number[]
  /** Sample indices per side. */
  readonly samples: readonly [readonly number[], readonly number[]]
  /** same: each sample ran on both sides; different: none did. A mixture is reduced to the samples that ran on both. */
  readonly pairing: 'same' | 'different'
  readonly leftOut: readonly LeftOut[]
}

export type LeftOut =
  | { readonly kind: 'workload without scores'; readonly workload: number; readonly sides: readonly (0 | 1)[] }
  | { readonly kind: 'workload missing on samples'; readonly workload: number; readonly samples: readonly number[] }
  | { readonly kind: 'sample without workload'; readonly sample: number; readonly workloads: readonly number[] }
  | { readonly kind: 'sample on one side only'; readonly sample: number; readonly side: 0 | 1 }

/**
 * Selects for the weighted mean over `wanted` workloads. A workload without scores on a side can't count. A sample that ran on one side only
 * steps back where others ran on both. Where a sample lacks a workload, the sample steps back while at least half of its side stays, otherwise the workload does.
 */
export function select(snapshot: GainSnapshot, cells: Cells, wanted: readonly number[]): Selection {
  const leftOut: LeftOut[] = []
  const has = presence(snapshot, cells)
  let columns = wanted.filter((workload) => {
    const sides = SIDES.filter((side) => !has[side].some((row) => row[workload]))
    if (sides.length > 0) leftOut.push({ kind: 'workload without scores', workload, sides })
    return sides.length === 0
  })
  const present = SIDES.map((side) => indices(has[side]).filter((sample) => columns.some((workload) => has[side][sample][workload])))
  const common = present[0].filter((sample) => present[1].includes(sample))
  // A few that ran on both sides don't make the others worthless: then all count, and a sample on both sides counts on each.
  const pairing = common.length > 0 && common.length * 2 >= Math.min(present[0].length, present[1].length) ? 'same' : 'different'
  const samples: [number[], number[]] = pairing === 'same' ? [common, common] : [present[0], present[1]]
  if (pairing === 'same') {
    for (const side of SIDES) for (const sample of present[side]) if (!common.includes(sample)) leftOut.push({ kind: 'sample on one side only', sample, side })
  }
  const lacks = (side: 0 | 1, sample: number) => columns.filter((workload) => SIDES.some((which) => (pairing === 'same' || which === side) && samples[which].includes(sample) && !has[which][sample][workload]))
  const whole = SIDES.map((side) => samples[side].filter((sample) => lacks(side, sample).length === 0))
  if (SIDES.every((side) => whole[side].length * 2 >= samples[side].length && whole[side].length > 0)) {
    for (const side of pairing === 'same' ? ([0] as const) : SIDES) {
      for (const sample of samples[side]) if (!whole[side].includes(sample)) leftOut.push({ kind: 'sample without workload', sample, workloads: lacks(side, sample) })
    }
    samples[0] = whole[0]
    samples[1] = whole[1]
  } else {
    columns = columns.filter((workload) => {
      const missing = [...new Set(SIDES.flatMap((side) => samples[side].filter((sample) => !has[side][sample][workload])))]
      if (missing.length > 0) leftOut.push({ kind: 'workload missing on samples', workload, samples: missing })
      return missing.length === 0
    })
  }
  // Relative to the largest, so that no sum overflows.
  const most = Math.max(...columns.map((workload) => snapshot.workloads[workload].weight))
  const relative = columns.map((workload) => snapshot.workloads[workload].weight / most)
  const total = relative.reduce((sum, weight) => sum + weight, 0)
  return { columns, weights: relative.map((weight) => weight / total), samples, pairing, leftOut }
}

export const SIDES = [0, 1] as const

/** has[side][sample][workload] */
function presence(snapshot: GainSnapshot, cells: Cells): readonly (readonly boolean[])[][] {
  const has = SIDES.map(() => snapshot.samples.map(() => snapshot.workloads.map(() => false)))
  snapshot.starts.forEach((start, index) => {
    for (let workload = 0; workload < cells.workloadCount; workload++) {
      if (cells.count[index * cells.workloadCount + workload] > 0) has[start.side][start.sample][workload] = true
    }
  })
  return has
}

function indices(rows: readonly unknown[]): number[] {
  return rows.map((_, index) => index)
}
