// B minus A for a weighted set of workloads, in both scopes, from start x workload means.
//
// A start's row of weighted scores z = W w_k y_k (W workloads) has the weighted mean as its plain mean, so one row model serves any weights:
// on complete rows it is exactly the mean and variance of one number a start, with holes it is the restricted maximum likelihood of a common start shift.
//   these samples:      mean over samples fixed; error from starts, a variance a side, joined by Welch and Satterthwaite.
//   samples like these: same samples, t on their differences, df = samples - 1; different samples, Welch on sample means.
// Derivation and sources: docs/methods/gain.md.
import { fitRowIntercepts, meanAndVariance, normalQuantile, pooledVariance, rowInterceptContrast, tQuantile, welchSatterthwaite, type RowInterceptFit, type VarianceTerm } from '@guardband/engine'
import type { GainSnapshot } from '@guardband/model'
import type { Cells } from './cells.ts'
import type { Resolution } from './resolution.ts'
import { SIDES, type Selection } from './selection.ts'

export interface Contrast {
  readonly estimate: number
  /** Null when there is no interval. */
  readonly standardError: number | null
  /** Degrees of freedom; null with a standard error means the normal quantile (rounding decides among these samples). */
  readonly df: number | null
  readonly halfWidth: number | null
  readonly why: 'no samples' | 'one start a side' | 'one sample' | 'out of reach' | null
  /** A variance was pooled over the sides. */
  readonly pooled: boolean
  /** Rounding of the instrument, not scatter, sets the interval. */
  readonly rounding: boolean
}

export interface ScopedContrast {
  readonly theseSamples: Contrast
  readonly samplesLikeThese: Contrast
  /** Starts with at least one score, per side, among the samples used. */
  readonly starts: readonly [number, number]
  /** Variance of one start's weighted score, per side, null where it can't be told: plans further starts. */
  readonly startVariance: readonly [number | null, number | null]
  /** Least variance that rounding leaves in the mean of one sample on one side. */
  readonly rounding: number
  /** Variance of the per-sample quantities behind `samplesLikeThese`: plans further samples. */
  readonly sampleVariance: number | null
}

/** 95 % two-sided: the one interval that is drawn and that verdicts rest on. */
export const CONFIDENCE = 0.95
const UPPER = 1 - (1 - CONFIDENCE) / 2

export interface ContrastInput {
  readonly snapshot: GainSnapshot
  readonly cells: Pick<Cells, 'mean' | 'count' | 'workloadCount'>
  readonly selection: Selection
  readonly resolution: readonly (Resolution | null)[]
  /** Where `cells` had a common slope over time taken out: the variance that its error adds to the contrast, and that slope's degrees of freedom. */
  readonly slope?: { readonly variance: number; readonly df: number }
}

export function contrast(input: ContrastInput): ScopedContrast {
  const { selection } = input
  if (selection.columns.length === 0 || SIDES.some((side) => selection.samples[side].length === 0)) return NOTHING
  const tables = SIDES.map((side) => sideTable(input, side))
  const fits = tables.map((table) => fitRowIntercepts(table))
  const means = SIDES.map((side) => selection.samples[side].map((_, group) => rowMean(fits[side], group)))
  const estimate = average(means[1]) - average(means[0])
  const rounding = roundingVariance(input)
  const floor = rounding / input.selection.samples[0].length + rounding / input.selection.samples[1].length
  return {
    theseSamples: fixedSamples(input, tables, fits, estimate, floor),
    ...likeSamples(input, means, estimate, floor),
    rounding,
    starts: [tables[0].groupOfRow.length, tables[1].groupOfRow.length],
    startVariance: [oneStartVariance(fits[0], tables[0]), oneStartVariance(fits[1], tables[1])],
  }
}

interface SideTable {
  readonly groupCount: number
  readonly columnCount: number
  readonly groupOfRow: Int32Array
  readonly rows: Int32Array
  readonly columns: Int32Array
  readonly values: Float64Array
}

/** Rows are starts, groups are samples, columns the selected workloads; values carry their weights. */
function sideTable({ snapshot, cells, selection }: ContrastInput, side: 0 | 1): SideTable {
  const columnCount = selection.columns.length
  const groupOfSample = new Map(selection.samples[side].map((sample, group) => [sample, group] as const))
  const groupOfRow: number[] = []
  const rows: number[] = []
  const columns: number[] = []
  const values: number[] = []
  snapshot.starts.forEach((start, index) => {
    const group = groupOfSample.get(start.sample)
    if (start.side !== side || group === undefined) return
    const row = groupOfRow.length
    const before = values.length
    selection.columns.forEach((workload, column) => {
      const cell = index * cells.workloadCount + workload
      if (cells.count[cell] === 0) return
      rows.push(row)
      columns.push(column)
      values.push(columnCount * selection.weights[column] * cells.mean[cell])
    })
    if (values.length > before) groupOfRow.push(group)
  })
  return {
    groupCount: selection.samples[side].length, columnCount, groupOfRow: Int32Array.from(groupOfRow), rows: Int32Array.from(rows), columns: Int32Array.from(columns), values: Float64Array.from(values),
  }
}

function rowMean(fit: RowInterceptFit, group: number): number {
  return fit.mu[group].reduce<number>((sum, mean) => sum + (mean ?? 0), 0) / fit.columnCount
}

function fixedSamples(input: ContrastInput, tables: readonly SideTable[], fits: readonly RowInterceptFit[], estimate: number, floor: number): Contrast {
  const spent = input.slope === undefined ? { df: 0, variance: 0 } : { df: 1, variance: input.slope.variance }
  const pooled = SIDES.some((side) => fits[side].dfRows < LEAST_DF_APART)
  const term = pooled ? pooledTerm(tables) : apartTerm(fits)
  const rows = fits[0].dfRows + fits[1].dfRows
  if (term === null || rows - spent.df <= 0) return { ...NO_INTERVAL, estimate, why: 'one start a side' }
  // Squares were divided by all degrees of freedom; what the slope took comes off the divisor, and off the df in proportion.
  const left = (rows - spent.df) / rows
  const variance = term.variance / left + spent.variance
  const df = term.df * left
  return interval({ estimate, variance, df, floor, floorDf: null, pooled })
}

/** With one degree of freedom on a side, Welch's interval says nothing. */
const LEAST_DF_APART = 2

function apartTerm(fits: readonly RowInterceptFit[]): { variance: number; df: number } | null {
  const terms = fits.map((fit) => {
    const weight = 1 / (fit.mu.length * fit.columnCount)
    const result = rowInterceptContrast(fit, fit.mu.map(() => new Float64Array(fit.columnCount).fill(weight)))
    return result.status === 'estimated' ? { variance: result.variance, df: result.df } : null
  })
  const [a, b] = terms
  return a === null || b === null ? null : welchSatterthwaite([a, b])
}


function pooledTerm(tables: readonly SideTable[]): { variance: number; df: number } | null {
  const [a, b] = tables
  const fit = fitRowIntercepts({
    groupCount: a.groupCount + b.groupCount,
    columnCount: a.columnCount,
    groupOfRow: Int32Array.from([...a.groupOfRow, ...Array.from(b.groupOfRow, (group) => group + a.groupCount)]),
    rows: Int32Array.from([...a.rows, ...Array.from(b.rows, (row) => row + a.groupOfRow.length)]),
    columns: Int32Array.from([...a.columns, ...b.columns]),
    values: Float64Array.from([...a.values, ...b.values]),
  })
  const result = rowInterceptContrast(fit, fit.mu.map((_, group) => {
    const groups = group < a.groupCount ? -a.groupCount : b.groupCount
    return new Float64Array(fit.columnCount).fill(1 / (groups * fit.columnCount))
  }))
  return result.status === 'estimated' ? { variance: result.variance, df: result.df } : null
}

function likeSamples({ selection, slope }: ContrastInput, means: readonly (readonly number[])[], estimate: number, floor: number): { samplesLikeThese: Contrast; sampleVariance: number | null } {
  // The slope's error is independent of the samples' means, which a common slope was fitted about.
  const withSlope = (term: VarianceTerm) => (slope === undefined ? term : welchSatterthwaite([term, slope]))
  if (selection.pairing === 'same') {
    const differences = means[1].map((mean, sample) => mean - means[0][sample])
    const count = differences.length
    if (count < 2) return { samplesLikeThese: { ...NO_INTERVAL, estimate, why: 'one sample' }, sampleVariance: null }
    const { variance } = meanAndVariance(differences)
    const spread = variance ?? 0
    return { samplesLikeThese: interval({ estimate, ...withSlope({ variance: spread / count, df: count - 1 }), floor, floorDf: count - 1, pooled: false }), sampleVariance: spread }
  }
  const counts = means.map((list) => list.length)
  if (counts.some((count) => count < 2)) return { samplesLikeThese: { ...NO_INTERVAL, estimate, why: 'one sample' }, sampleVariance: null }
  const together = pooledVariance(means)
  const pooled = counts.some((count) => count === 2)
  const term = pooled
    ? { variance: (together.variance ?? 0) * (1 / counts[0] + 1 / counts[1]), df: together.df }
    : welchSatterthwaite(means.map((list) => ({ variance: (meanAndVariance(list).variance ?? 0) / list.length, df: list.length - 1 })))
  return { samplesLikeThese: interval({ estimate, ...withSlope(term), floor, floorDf: counts[0] + counts[1] - 2, pooled }), sampleVariance: together.variance }
}

/**
 * `floorDf`: degrees of freedom of the quantile on the floor. Among these samples rounding is the whole error and its variance is known (null, normal).
 * For samples like these ties also hide how much samples differ, which no known variance stands for: the floor takes the scope's own t.
 */
function interval(parts: { readonly estimate: number; readonly variance: number; readonly df: number; readonly floor: number; readonly floorDf: number | null; readonly pooled: boolean }): Contrast {
  const { estimate, variance, df, floor, floorDf, pooled } = parts
  const scatter = tQuantile(UPPER, df) * Math.sqrt(variance)
  const quantile = floorDf === null ? normalQuantile(UPPER) : tQuantile(UPPER, floorDf)
  const rounded = quantile * Math.sqrt(floor)
  const rounding = rounded > scatter
  return {
    estimate, pooled, rounding, why: null,
    standardError: rounding ? Math.sqrt(floor) : Math.sqrt(variance),
    df: rounding ? floorDf : df,
    halfWidth: Math.max(scatter, rounded),
  }
}

/** Least variance that the instruments' steps leave in the mean of a sample on a side (resolution.ts). */
function roundingVariance({ selection, resolution }: ContrastInput): number {
  return selection.columns.reduce((sum, workload, column) => sum + selection.weights[column] ** 2 * (resolution[workload]?.variance ?? 0), 0)
}

/** Variance of one start's weighted mean, from that of the mean over samples: v / groups^2 x sum of 1 / starts. */
function oneStartVariance(fit: RowInterceptFit, table: SideTable): number | null {
  if (fit.basis.kind === 'none') return null
  const { groupCount } = table
  const count = new Int32Array(groupCount)
  for (const group of table.groupOfRow) count[group] += 1
  const result = rowInterceptContrast(fit, fit.mu.map(() => new Float64Array(fit.columnCount).fill(1 / (groupCount * fit.columnCount))))
  return result.status === 'estimated' ? (result.variance * groupCount ** 2) / count.reduce((sum, starts) => sum + 1 / starts, 0) : null
}

function average(values: readonly number[]): number {
  return meanAndVariance(values).mean
}

export const NO_INTERVAL = { standardError: null, df: null, halfWidth: null, pooled: false, rounding: false } as const
const NOTHING: ScopedContrast = {
  theseSamples: { ...NO_INTERVAL, estimate: 0, why: 'no samples' },
  samplesLikeThese: { ...NO_INTERVAL, estimate: 0, why: 'no samples' },
  rounding: 0,
  starts: [0, 0],
  startVariance: [null, null],
  sampleVariance: null,
}
