// What an estimator could reach that knew every variance: standard error of the best linear unbiased estimate and the design's degrees of freedom.
//
// Cells are start x workload means. Fixed: the level of each side x workload (samples like these) or of each sample x side x workload (these
// samples), and one slope over the order of starts where the scenario drifts. Everything else enters the covariance V with its true variance.
//   se^2 = c' (X' V^-1 X)^-1 c        generalised least squares; samples are independent blocks of V
// The overall draws on all cells, a workload on its own only: a workload's figure must not move with another's.
// On whole tables this equals the closed form (sum of variances over counts). Degrees of freedom: Satterthwaite with true variances, the line's
// part of the variance with the degrees of freedom among starts that it leaves.
// Source: C. R. Henderson, Biometrics 31:423, 1975; F. E. Satterthwaite, Biometrics Bulletin 2:110, 1946.
import { factorInto, forwardInto } from './cholesky.ts'
import type { RealisedLab } from './realise-lab.ts'
import { rounding } from './rounding.ts'
import type { Scenario } from './scenario.ts'
import { samplesOf } from './schedule.ts'
import type { SideIndex } from './schedule.ts'

export interface ScopeFigures<Figure> {
  readonly overall: Figure
  readonly perWorkload: readonly Figure[]
}

export interface KnownError {
  readonly se: number
  /** Infinity where nothing but rounding is left, whose variance is known. */
  readonly df: number
}

/** Null where the design leaves no degrees of freedom, so that no honest interval exists. */
export interface Known {
  readonly theseSamples: ScopeFigures<KnownError> | null
  readonly samplesLikeThese: ScopeFigures<KnownError> | null
}

export function knownVariances(scenario: Scenario, lab: RealisedLab): Known {
  const whole = scenario.missing === 0 && scenario.failed === 0 && scenario.design.workloads.every(({ resolution }) => resolution === undefined)
  const kept = whole ? known.get(scenario) : undefined
  if (kept !== undefined) return kept
  const result = { theseSamples: scopeOf(scenario, lab, 'these'), samplesLikeThese: scopeOf(scenario, lab, 'like these') }
  if (whole) known.set(scenario, result)
  return result
}

type Scope = 'these' | 'like these'

/** A whole table of unrounded scores has the same errors in every lab. */
const known = new WeakMap<Scenario, Known>()

interface Cell {
  readonly start: number
  readonly sample: number
  readonly side: SideIndex
  readonly workload: number
  /** Runs with a measure. */
  readonly count: number
}

function scopeOf(scenario: Scenario, lab: RealisedLab, scope: Scope): ScopeFigures<KnownError> | null {
  const cells = cellsOf(lab, scenario.design.workloads.length)
  const weights = scenario.design.workloads.map(({ weight }) => weight)
  const sum = weights.reduce((total, weight) => total + weight, 0)
  const overall = errorOf(scenario, lab, cells, scope, weights.map((weight) => weight / sum))
  const perWorkload = weights.flatMap((_, workload) => {
    const shares = weights.map((_, other) => (other === workload ? 1 : 0))
    const figure = errorOf(scenario, lab, cells.filter((cell) => cell.workload === workload), scope, shares)
    return figure === null ? [] : [figure]
  })
  return overall === null || perWorkload.length < weights.length ? null : { overall, perWorkload }
}

function errorOf(scenario: Scenario, lab: RealisedLab, cells: readonly Cell[], scope: Scope, shares: readonly number[]): KnownError | null {
  const level = standardError(scenario, lab, cells, scope, shares, 'none')
  const se = scenario.drift === 0 ? level : standardError(scenario, lab, cells, scope, shares, 'unknown')
  // What it costs not to know the line.
  const line = scenario.drift === 0 ? null : { share: Math.max(0, 1 - (level / se) ** 2) }
  const df = degreesOfFreedom(scenario, lab, cells, scope, shares, line)
  return df === null ? null : { se, df }
}

function cellsOf(lab: RealisedLab, workloads: number): readonly Cell[] {
  const counts = lab.starts.map(() => Array.from({ length: workloads }, () => 0))
  for (const run of lab.runs) if (run.logScore !== null) counts[run.start][run.workload] += 1
  return lab.starts.flatMap(({ sample, side }, start) =>
    counts[start].flatMap((count, workload) => (count === 0 ? [] : [{ start, sample, side, workload, count }])),
  )
}

function standardError(scenario: Scenario, lab: RealisedLab, cells: readonly Cell[], scope: Scope, shares: readonly number[], line: 'none' | 'unknown'): number {
  const { design } = scenario
  const workloads = shares.flatMap((share, workload) => (share > 0 ? [workload] : []))
  const levels = scope === 'these' ? samplesOf(design, 0).length + samplesOf(design, 1).length : 2
  const levelOf = (sample: number, side: SideIndex): number =>
    scope === 'like these' ? side : samplesOf(design, side).indexOf(sample) + (side === 1 ? samplesOf(design, 0).length : 0)
  const columnOf = (sample: number, side: SideIndex, workload: number): number => levelOf(sample, side) * workloads.length + workloads.indexOf(workload)
  const slopes = line === 'none' ? 0 : 1
  const size = levels * workloads.length + slopes
  const information = new Float64Array(size * size)

  for (const block of Map.groupBy(cells, (cell) => cell.sample).values()) {
    const rows = block.length
    const covariance = new Float64Array(rows * rows)
    block.forEach((one, row) => block.forEach((other, column) => (covariance[row * rows + column] = cellCovariance(scenario, lab, scope, one, other))))
    factorInto(covariance, rows)
    const columns = new Map<number, Float64Array>()
    const entryInto = (column: number, row: number, value: number): void => {
      const entries = columns.get(column) ?? new Float64Array(rows)
      entries[row] = value
      columns.set(column, entries)
    }
    block.forEach((cell, row) => {
      entryInto(columnOf(cell.sample, cell.side, cell.workload), row, 1)
      if (slopes === 1) entryInto(size - 1, row, cell.start / (lab.starts.length - 1) - 1 / 2)
    })
    for (const column of columns.values()) forwardInto(covariance, rows, column)
    for (const [one, left] of columns) {
      for (const [other, right] of columns) information[one * size + other] += left.reduce((sum, value, row) => sum + value * right[row], 0)
    }
  }

  const contrast = new Float64Array(size)
  for (const side of [0, 1] as const) {
    const samples = samplesOf(design, side)
    for (const sample of scope === 'these' ? samples : samples.slice(0, 1)) {
      const divisor = scope === 'these' ? samples.length : 1
      for (const workload of workloads) contrast[columnOf(sample, side, workload)] = ((side === 1 ? 1 : -1) * shares[workload]) / divisor
    }
  }
  factorInto(information, size)
  forwardInto(information, size, contrast)
  return Math.sqrt(contrast.reduce((sum, value) => sum + value * value, 0))
}

function cellCovariance({ design, spreads }: Scenario, lab: RealisedLab, scope: Scope, one: Cell, other: Cell): number {
  const sameWorkload = one.workload === other.workload ? 1 : 0
  let sum = 0
  if (scope === 'like these') sum += spreads.sample ** 2 + sameWorkload * spreads.sampleWorkload ** 2
  if (one.side !== other.side) return sum
  if (scope === 'like these') sum += spreads.sampleSide ** 2 + sameWorkload * spreads.sampleSideWorkload ** 2
  const round = rounding(spreads, design.workloads[one.workload], lab.levels[one.workload], one.side)
  sum += sameWorkload * round.sampleSide
  if (one.start !== other.start) return sum
  const factor = one.side === 1 ? spreads.startFactorB : 1
  sum += factor ** 2 * (spreads.start ** 2 + sameWorkload * spreads.startWorkload ** 2)
  return sum + sameWorkload * (round.start + (spreads.repeat ** 2 + round.run) / one.count + LEAST_VARIANCE)
}

/** Keeps the covariance of a lab without noise invertible: a spread of 1e-9, far below any instrument. */
const LEAST_VARIANCE = 1e-18

/**
 * Null where a side has nothing to tell its error from. `shares` makes the figure: 1 for one workload, the suite's shares for the overall.
 * An unknown line over time takes one of the degrees of freedom among starts; `line.share` is its part of the variance, told from those that remain.
 */
function degreesOfFreedom(
  scenario: Scenario,
  lab: RealisedLab,
  cells: readonly Cell[],
  scope: Scope,
  shares: readonly number[],
  line: { readonly share: number } | null,
): number | null {
  const { design } = scenario
  const sides = ([0, 1] as const).map((side) => {
    const samples = samplesOf(design, side)
    const startCounts = samples.map((sample) => new Set(cells.filter((cell) => cell.sample === sample && cell.side === side).map((cell) => cell.start)).size)
    const variance = figureVariances(scenario, lab, side, shares)
    const within = startCounts.reduce((sum, count) => sum + variance.start / count, 0) / samples.length ** 2
    return { samples: samples.length, variance, within, df: startCounts.reduce((sum, count) => sum + count - 1, 0) }
  })
  const among = sides[0].df + sides[1].df
  const left = line === null ? among : among - 1
  if (scope === 'these') {
    if (sides.some(({ df }) => df === 0)) return null
    const parts = sides.flatMap(({ samples, variance, within, df }) => [
      { variance: within, df: (df * left) / among },
      { variance: variance.rounding / samples, df: Infinity },
    ])
    return satterthwaite(parts)
  }
  if (sides.some(({ samples }) => samples < 2)) return null
  const levels =
    design.samples === 'same' ? [{ variance: 1, df: sides[0].samples - 1 }] : sides.map(({ samples, variance, within }) => ({ variance: variance.sample / samples + within, df: samples - 1 }))
  if (line === null) return satterthwaite(levels)
  const sum = levels.reduce((total, { variance }) => total + variance, 0)
  return satterthwaite([...levels, { variance: (sum * line.share) / (1 - line.share), df: left }])
}

function satterthwaite(parts: readonly { readonly variance: number; readonly df: number }[]): number {
  const total = parts.reduce((sum, { variance }) => sum + variance, 0)
  return total ** 2 / parts.reduce((sum, { variance, df }) => sum + variance ** 2 / df, 0)
}

/** Variances of a figure between samples (on one side), between starts of a sample, and by rounding that all starts of a sample share. */
function figureVariances(
  { design, spreads }: Scenario,
  lab: RealisedLab,
  side: SideIndex,
  shares: readonly number[],
): { readonly sample: number; readonly start: number; readonly rounding: number } {
  const factor = side === 1 ? spreads.startFactorB : 1
  const common = shares.reduce((sum, share) => sum + share, 0) ** 2
  const result = { sample: common * (spreads.sample ** 2 + spreads.sampleSide ** 2), start: common * factor ** 2 * spreads.start ** 2, rounding: 0 }
  shares.forEach((share, workload) => {
    const round = rounding(spreads, design.workloads[workload], lab.levels[workload], side)
    result.sample += share ** 2 * (spreads.sampleWorkload ** 2 + spreads.sampleSideWorkload ** 2 + round.sampleSide)
    result.start += share ** 2 * (factor ** 2 * spreads.startWorkload ** 2 + round.start + (spreads.repeat ** 2 + round.run) / design.repeats)
    result.rounding += share ** 2 * round.sampleSide
  })
  return result
}
