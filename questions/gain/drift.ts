// Drift over the day: whether scores slid with time, whether the order of starts lets that into the gain, and the same scores with the slide taken out.
//
// Common straight line over the starts of each rig x sample x side (analysis of covariance). Leverage is the mean time of B's starts less that of A's:
// drift adds slope x leverage to the gain. Where one side wholly precedes the other, slope and gain can't be told apart by any model.
// Source: D. R. Cox & N. Reid, The Theory of the Design of Experiments (2000), section 3; derivation in docs/methods/gain.md.
import { linearTrend, tQuantile, tUpperTail } from '@guardband/engine'
import type { GainSnapshot } from '@guardband/model'
import type { Cells } from './cells.ts'
import { SIDES, type Selection } from './selection.ts'

export interface Drift {
  /** Per hour where starts carry times, otherwise per start. */
  readonly per: 'hour' | 'start'
  /** In the scale computed on, per `per`; null when the starts can't tell it. */
  readonly slope: number | null
  readonly standardError: number | null
  readonly df: number
  readonly significant: boolean
  /** Where the slope was seen: among the starts of each sample, or, with one start a sample and side, from sample to sample (then it may be theirs). */
  readonly within: 'samples' | 'sides'
  /** From the first start to the last, in `per`. */
  readonly span: number
  /** Mean time of B less mean time of A, in `per`. */
  readonly leverage: number
  /** One side wholly precedes the other wherever both ran. */
  readonly separated: boolean
  /** The largest contribution to the gain that the data can't exclude (95 %); Infinity when the slope can't be told. */
  readonly bound: number
  /** slope x leverage: what the drift adds to the plain gain. */
  readonly bias: number
  /** What taking the line out adds to the variance of the gain, as a share of it: how far the order leans to one side. Known from the order alone. */
  readonly lean: number
  /** What it adds to the variance of the gain or to that among samples, whichever is the larger share. */
  readonly cost: number
}

/** A drift is spoken of at 1 % two-sided. */
const BELIEVED = 0.01
/** Fewer degrees of freedom than this can't tell a drift from scatter. */
export const LEAST_DF = 4
/**
 * A drift that just escapes notice is 1 % significant; with this share it moves the gain by the square root of it times as many standard errors, about one.
 * Plain turns (A B A B ...) of three starts a side lean 0.09; all but one start of A before all but one of B, 1 and more.
 */
export const LEANING = 0.1

export function measureDrift(snapshot: GainSnapshot, cells: Cells, selection: Selection): Drift {
  const clock = startClock(snapshot)
  const rows = usedRows(snapshot, cells, selection)
  const bySample = labelsOf(snapshot, 'sample')
  const leverage = meanTime(snapshot, selection, rows, clock.x, 1) - meanTime(snapshot, selection, rows, clock.x, 0)
  const separated = isSeparated(snapshot, selection, rows, clock.x)
  const x = rows.map((row) => clock.x[row])
  const fine = linearTrend({ groupOf: rows.map(bySample), x, y: deviations(cells, selection, rows, bySample) })
  // One start a sample and side leaves no line within samples; then samples of a side stand in, with their spread as scatter.
  const bySide = labelsOf(snapshot, 'side')
  const trend = fine.status === 'fitted' ? fine : linearTrend({ groupOf: rows.map(bySide), x, y: deviations(cells, selection, rows, bySide) })
  const within: Drift['within'] = fine.status === 'fitted' ? 'samples' : 'sides'
  const base = { per: clock.per, within, span: Math.max(...x) - Math.min(...x), leverage, separated, ...costsOf(snapshot, selection, rows, clock.x) }
  if (trend.status !== 'fitted') return { ...base, slope: null, standardError: null, df: 0, significant: false, bound: leverage === 0 ? 0 : Number.POSITIVE_INFINITY, bias: 0 }
  const { slope, standardError, df } = trend
  const probability = standardError === 0 ? (slope === 0 ? 1 : 0) : 2 * tUpperTail(Math.abs(slope) / standardError, df)
  const bias = slope * leverage
  return { ...base, slope, standardError, df, bias, significant: df >= LEAST_DF && probability < BELIEVED, bound: Math.abs(bias) + tQuantile(0.975, df) * standardError * Math.abs(leverage) }
}

/** Cell means with each selected workload's own straight line over time taken out, about the mean time of its starts. */
export function withoutDrift(snapshot: GainSnapshot, cells: Cells, selection: Selection): Cells {
  const clock = startClock(snapshot)
  const mean = Float64Array.from(cells.mean)
  const bySample = labelsOf(snapshot, 'sample')
  for (const workload of selection.columns) {
    const rows = usedRows(snapshot, cells, { ...selection, columns: [workload] })
    const trend = linearTrend({ groupOf: rows.map(bySample), x: rows.map((row) => clock.x[row]), y: rows.map((row) => cells.mean[row * cells.workloadCount + workload]) })
    if (trend.status !== 'fitted') continue
    const middle = rows.reduce((sum, row) => sum + clock.x[row], 0) / rows.length
    for (const row of rows) mean[row * cells.workloadCount + workload] -= trend.slope * (clock.x[row] - middle)
  }
  return { ...cells, mean }
}

interface Clock {
  readonly per: 'hour' | 'start'
  /** Per start: hours since its rig's first start, or its place in the order. */
  readonly x: readonly number[]
}

const MILLISECONDS_PER_HOUR = 3_600_000

function startClock(snapshot: GainSnapshot): Clock {
  if (!snapshot.starts.every((start) => start.at !== undefined)) return { per: 'start', x: snapshot.starts.map((start) => start.order) }
  const moments = snapshot.starts.map((start) => Date.parse(start.at ?? ''))
  const first = new Map<string, number>()
  snapshot.starts.forEach((start, index) => first.set(start.rig, Math.min(first.get(start.rig) ?? Number.POSITIVE_INFINITY, moments[index])))
  return { per: 'hour', x: snapshot.starts.map((start, index) => (moments[index] - (first.get(start.rig) ?? 0)) / MILLISECONDS_PER_HOUR) }
}

function usedRows(snapshot: GainSnapshot, cells: Cells, selection: Selection): readonly number[] {
  const rows: number[] = []
  snapshot.starts.forEach((start, index) => {
    if (!selection.samples[start.side].includes(start.sample)) return
    if (selection.columns.some((workload) => cells.count[index * cells.workloadCount + workload] > 0)) rows.push(index)
  })
  return rows
}

type Labels = (row: number) => number

/** Numbers the rig x side, or rig x sample x side, that a start belongs to. */
function labelsOf(snapshot: GainSnapshot, within: 'sample' | 'side'): Labels {
  const rigs = new Map<string, number>()
  for (const { rig } of snapshot.starts) if (!rigs.has(rig)) rigs.set(rig, rigs.size)
  return (row) => {
    const start = snapshot.starts[row]
    const rig = rigs.get(start.rig) ?? 0
    return within === 'side' ? rig * 2 + start.side : (rig * snapshot.samples.length + start.sample) * 2 + start.side
  }
}

/** Weighted mean, over the workloads that a start has, of its deviation from the mean of its group in that workload. */
function deviations(cells: Cells, selection: Selection, rows: readonly number[], labelOf: Labels): readonly number[] {
  const labels = rows.map(labelOf)
  // Running means: exact for equal scores, so that ties show no slope.
  const means = new Map<string, { mean: number; count: number }>()
  rows.forEach((row, index) => {
    for (const workload of selection.columns) {
      const cell = row * cells.workloadCount + workload
      if (cells.count[cell] === 0) continue
      const key = `${labels[index]} ${workload}`
      const { mean, count } = means.get(key) ?? { mean: 0, count: 0 }
      means.set(key, { mean: mean + (cells.mean[cell] - mean) / (count + 1), count: count + 1 })
    }
  })
  return rows.map((row, index) => {
    let weighted = 0
    let weight = 0
    selection.columns.forEach((workload, column) => {
      const cell = row * cells.workloadCount + workload
      const own = means.get(`${labels[index]} ${workload}`)
      if (cells.count[cell] === 0 || own === undefined) return
      weighted += selection.weights[column] * (cells.mean[cell] - own.mean)
      weight += selection.weights[column]
    })
    return weighted / weight
  })
}

/**
 * Two shares: of the variance of the gain itself, and of the differences among samples behind "samples like these" (each sample's own
 * B less A where it ran on both sides, its distance from its side's mean where it didn't), which an error in the slope would spread.
 */
function costsOf(snapshot: GainSnapshot, selection: Selection, rows: readonly number[], x: readonly number[]): Pick<Drift, 'lean' | 'cost'> {
  const blocks = SIDES.map((side) =>
    selection.samples[side].map((sample) => {
      const times = rows.filter((row) => snapshot.starts[row].side === side && snapshot.starts[row].sample === sample).map((row) => x[row])
      return { middle: average(times), starts: times.length }
    }),
  )
  const middles = blocks.map((side) => average(side.map(({ middle }) => middle)))
  const spread = [...Map.groupBy(rows, labelsOf(snapshot, 'sample')).values()].reduce((sum, group) => {
    const middle = average(group.map((row) => x[row]))
    return sum + group.reduce((total, row) => total + (x[row] - middle) ** 2, 0)
  }, 0)
  if (spread === 0) return { lean: Number.POSITIVE_INFINITY, cost: Number.POSITIVE_INFINITY }
  const inverse = blocks.map((side) => side.reduce((sum, { starts }) => sum + 1 / starts, 0))
  const ofGain = (middles[1] - middles[0]) ** 2 / (inverse[0] / blocks[0].length ** 2 + inverse[1] / blocks[1].length ** 2)
  const distances = selection.pairing === 'same' ? blocks[1].map(({ middle }, sample) => middle - blocks[0][sample].middle) : SIDES.flatMap((side) => blocks[side].map(({ middle }) => middle - middles[side]))
  const amongSamples = distances.reduce((sum, distance) => sum + distance ** 2, 0) / (inverse[0] + inverse[1])
  return { lean: ofGain / spread, cost: Math.max(ofGain, amongSamples) / spread }
}

function average(values: readonly number[]): number {
  return values.reduce((sum, value) => sum + value, 0) / values.length
}

/** Mean over samples of the mean time of their starts on one side. */
function meanTime(snapshot: GainSnapshot, selection: Selection, rows: readonly number[], x: readonly number[], side: 0 | 1): number {
  const times = selection.samples[side].map((sample) => {
    const own = rows.filter((row) => snapshot.starts[row].side === side && snapshot.starts[row].sample === sample)
    return own.reduce((sum, row) => sum + x[row], 0) / own.length
  })
  return times.reduce((sum, time) => sum + time, 0) / times.length
}

function isSeparated(snapshot: GainSnapshot, selection: Selection, rows: readonly number[], x: readonly number[]): boolean {
  const blocks = new Map<string, [number[], number[]]>()
  for (const row of rows) {
    const start = snapshot.starts[row]
    const key = selection.pairing === 'same' ? `${start.rig} ${start.sample}` : start.rig
    const block = blocks.get(key) ?? [[], []]
    block[start.side].push(x[row])
    blocks.set(key, block)
  }
  const both = [...blocks.values()].filter((block) => SIDES.every((side) => block[side].length > 0))
  if (both.length === 0) return false
  return both.every(([a, b]) => Math.max(...a) < Math.min(...b)) || both.every(([a, b]) => Math.max(...b) < Math.min(...a))
}
