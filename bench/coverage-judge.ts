// Holds the counts of one scenario against the bars. Bars follow from the design; a scenario file can only name the exceptions that the bars provide for.
import type { AnswerScope } from '@guardband/model'
import type { Scenario } from '@guardband/simlab'
import type { FigureTally, Tally } from './coverage-tally.ts'

export interface JudgedFigure {
  readonly scope: AnswerScope
  readonly figure: 'overall' | 'workloads, mean' | 'workloads, worst'
  readonly barred: boolean
  /** Shares from 0 to 1 and ratios; null where there is nothing to count. */
  readonly coverage: number | null
  readonly coverageLow: number
  readonly coverageHigh: number | null
  readonly width: number | null
  readonly widthBar: number
  readonly falseFaster: number | null
  /** Labs without an interval, of all; where none may have one, labs that have. */
  readonly withoutInterval: number
  readonly misses: readonly string[]
}

export interface Judged {
  readonly scenario: string
  readonly figures: readonly JudgedFigure[]
  /** Share of labs that said what they must, and whether that suffices. */
  readonly mustSay: { readonly code: string; readonly share: number } | null
  /** Share of labs that were called not fair in a scenario that is fair. */
  readonly notFair: number
  readonly misses: readonly string[]
}

/**
 * DESIGN of the bars: 93.5-97 %, samples like these at least 93 %; width 1.25 where the error is a sum of variances told apart from different
 * places, else 1.0; false faster 3.5 %.
 */
export const BARS = {
  coverageLow: { 'these samples': 0.935, 'samples like these': 0.93 },
  coverageHigh: 0.97,
  width: { oneVariance: 1, severalVariances: 1.25 },
  falseFaster: 0.035,
  mustSay: 0.99,
} as const

export function judgeScenario(scenario: Scenario, tally: Tally): Judged {
  const figures = (['these samples', 'samples like these'] as const).flatMap((scope) => scopeFigures(scenario, tally, scope))
  const misses = figures.flatMap((figure) => figure.misses.map((miss) => `${figure.scope}, ${figure.figure}: ${miss}`))
  const notFair = tally.notFair / tally.labs
  const code = scenario.judge.mustSay
  if (code !== undefined && notFair < BARS.mustSay) misses.push(`must say ${code} in at least 99 % of labs; got ${percent(notFair)}`)
  return { scenario: scenario.name, figures, mustSay: code === undefined ? null : { code, share: notFair }, notFair, misses }
}

export function percent(share: number): string {
  return `${(100 * share).toFixed(2)} %`
}

function scopeFigures(scenario: Scenario, tally: Tally, scope: AnswerScope): readonly JudgedFigure[] {
  const counts = tally.scopes[scope]
  const judge = scenario.judge
  if (judge.noInterval.includes(scope)) {
    return [noIntervalFigure(scope, 'overall', [counts.overall]), noIntervalFigure(scope, 'workloads, worst', counts.perWorkload)]
  }
  const overall = statistics(counts.overall)
  const each = counts.perWorkload.map(statistics)
  const barred = judge.scopes.includes(scope)
  const workloadsBarred = barred && judge.workloadsPrintedOnly === undefined
  const mean = {
    coverage: meanOf(each.map(({ coverage }) => coverage)),
    width: meanOf(each.map(({ width }) => width)),
    falseFaster: meanOf(each.map(({ falseFaster }) => falseFaster)),
    withoutInterval: meanOf(each.map(({ withoutInterval }) => withoutInterval)) ?? 1,
  }
  const high = judge.noUpperLimit?.scopes.includes(scope) === true ? null : BARS.coverageHigh
  const worst = {
    coverage: worstCoverage(each.map(({ coverage }) => coverage), BARS.coverageLow[scope], high),
    width: greatest(each.map(({ width }) => width)),
    falseFaster: greatest(each.map(({ falseFaster }) => falseFaster)),
    withoutInterval: greatest(each.map(({ withoutInterval }) => withoutInterval)) ?? 1,
  }
  const judgeOne = (figure: JudgedFigure['figure'], statistic: Statistics, isBarred: boolean): JudgedFigure => {
    const bars = { coverageLow: BARS.coverageLow[scope], coverageHigh: high, widthBar: widthBar(scenario, scope) }
    return { scope, figure, barred: isBarred, ...statistic, ...bars, misses: isBarred ? missesOf(statistic, bars) : [] }
  }
  return [judgeOne('overall', overall, barred), judgeOne('workloads, mean', mean, workloadsBarred), judgeOne('workloads, worst', worst, workloadsBarred)]
}

/**
 * Different samples: each side has its own variance. An order that leans: samples like these add the error of the line, told from the starts, to
 * the scatter among samples. Everywhere else one variance is told from one set of differences.
 */
function widthBar({ design }: Scenario, scope: AnswerScope): number {
  const several = design.samples === 'different' || (design.order === 'B later' && scope === 'samples like these')
  return several ? BARS.width.severalVariances : BARS.width.oneVariance
}

interface Statistics {
  readonly coverage: number | null
  readonly width: number | null
  readonly falseFaster: number | null
  readonly withoutInterval: number
}

/** A lab without an interval has not covered its truth. */
function statistics(figure: FigureTally): Statistics {
  return {
    coverage: figure.labs === 0 ? null : figure.covered / figure.labs,
    width: median(figure.widths),
    falseFaster: figure.zeroTruth === 0 ? null : figure.falseFaster / figure.zeroTruth,
    withoutInterval: 1 - figure.intervals / figure.labs,
  }
}

function missesOf(statistic: Statistics, bars: { readonly coverageLow: number; readonly coverageHigh: number | null; readonly widthBar: number }): readonly string[] {
  const misses: string[] = []
  const { coverage, width, falseFaster } = statistic
  if (coverage === null || coverage < bars.coverageLow) misses.push(`coverage must be at least ${percent(bars.coverageLow)}; got ${coverage === null ? 'none' : percent(coverage)}`)
  if (coverage !== null && bars.coverageHigh !== null && coverage > bars.coverageHigh) misses.push(`coverage must be at most ${percent(bars.coverageHigh)}; got ${percent(coverage)}`)
  if (width === null || width > bars.widthBar) misses.push(`median width must be at most ${bars.widthBar} of the reference; got ${width === null ? 'none' : width.toFixed(4)}`)
  if (falseFaster !== null && falseFaster > BARS.falseFaster) misses.push(`false "faster" must be at most ${percent(BARS.falseFaster)}; got ${percent(falseFaster)}`)
  return misses
}

function noIntervalFigure(scope: AnswerScope, figure: JudgedFigure['figure'], counts: readonly FigureTally[]): JudgedFigure {
  const violations = counts.reduce((sum, { intervals }) => sum + intervals, 0)
  const labs = counts.reduce((sum, each) => sum + each.labs, 0)
  return {
    scope, figure, barred: true, coverage: null, coverageLow: 0, coverageHigh: null, width: null, widthBar: 0, falseFaster: null,
    withoutInterval: 1 - violations / labs,
    misses: violations === 0 ? [] : [`must have no interval; got ${violations} of ${labs}`],
  }
}

function median(values: readonly number[]): number | null {
  if (values.length === 0) return null
  const sorted = Float64Array.from(values).toSorted()
  const middle = sorted.length >> 1
  return sorted.length % 2 === 1 ? sorted[middle] : (sorted[middle - 1] + sorted[middle]) / 2
}

function present(values: readonly (number | null)[]): readonly number[] {
  return values.filter((value) => value !== null)
}

function meanOf(values: readonly (number | null)[]): number | null {
  const found = present(values)
  return found.length === 0 ? null : found.reduce((sum, value) => sum + value, 0) / found.length
}

function greatest(values: readonly (number | null)[]): number | null {
  const found = present(values)
  return found.length === 0 ? null : Math.max(...found)
}

/** The coverage that stands nearest to breaking a bar, or furthest beyond one. */
function worstCoverage(values: readonly (number | null)[], low: number, high: number | null): number | null {
  const found = present(values)
  if (found.length === 0) return null
  const room = (coverage: number): number => Math.min(coverage - low, high === null ? Infinity : high - coverage)
  return found.reduce((worst, coverage) => (room(coverage) < room(worst) ? coverage : worst))
}
