// What is counted over the simulated labs of one scenario, per scope, for the overall and each workload.
import type { Answer, AnswerScope } from '@guardband/model'
import { viewOf } from '@guardband/model'
import { upperQuantile } from '@guardband/simlab'
import type { KnownError, ScopeFigures, SimulatedLab } from '@guardband/simlab'

export interface FigureTally {
  labs: number
  /** Labs in which the answer gave an interval. */
  intervals: number
  covered: number
  /** Half-widths on the log scale over those of the reference, where both exist. */
  widths: number[]
  /** Labs whose truth is exactly 0, and those of them that were called faster. */
  zeroTruth: number
  falseFaster: number
}

export interface ScopeTally {
  readonly overall: FigureTally
  readonly perWorkload: readonly FigureTally[]
}

export interface Tally {
  labs: number
  /** Labs whose headline verdict is "not a fair comparison". */
  notFair: number
  readonly scopes: Readonly<Record<AnswerScope, ScopeTally>>
}

export function emptyTally(workloads: number): Tally {
  const scope = (): ScopeTally => ({ overall: emptyFigure(), perWorkload: Array.from({ length: workloads }, emptyFigure) })
  return { labs: 0, notFair: 0, scopes: { 'these samples': scope(), 'samples like these': scope() } }
}

/** Counts one lab and what was answered about it. */
export function countInto(tally: Tally, lab: SimulatedLab, answer: Answer): void {
  tally.labs += 1
  if (viewOf(answer).verdict.code === NOT_FAIR) tally.notFair += 1
  countScopeInto(tally.scopes['these samples'], lab, answer, 'these samples')
  countScopeInto(tally.scopes['samples like these'], lab, answer, 'samples like these')
}

export function mergeInto(tally: Tally, part: Tally): void {
  tally.labs += part.labs
  tally.notFair += part.notFair
  for (const scope of ['these samples', 'samples like these'] as const) {
    mergeFigureInto(tally.scopes[scope].overall, part.scopes[scope].overall)
    tally.scopes[scope].perWorkload.forEach((figure, index) => mergeFigureInto(figure, part.scopes[scope].perWorkload[index]))
  }
}

const NOT_FAIR = 'not-fair'
/** The code of every verdict that calls B faster begins so. */
const FASTER = 'faster'

function emptyFigure(): FigureTally {
  return { labs: 0, intervals: 0, covered: 0, widths: [], zeroTruth: 0, falseFaster: 0 }
}

function mergeFigureInto(figure: FigureTally, part: FigureTally): void {
  figure.labs += part.labs
  figure.intervals += part.intervals
  figure.covered += part.covered
  figure.zeroTruth += part.zeroTruth
  figure.falseFaster += part.falseFaster
  for (const width of part.widths) figure.widths.push(width)
}

function countScopeInto(tally: ScopeTally, lab: SimulatedLab, answer: Answer, scope: AnswerScope): void {
  const truth = scope === 'these samples' ? lab.truth.theseSamples : lab.truth.samplesLikeThese
  const known: ScopeFigures<KnownError> | null = scope === 'these samples' ? lab.known.theseSamples : lab.known.samplesLikeThese
  const estimates = answer.estimates.filter((estimate) => estimate.scope === scope)
  const find = (key: string) => estimates.find((estimate) => estimate.key === key)
  countFigureInto(tally.overall, find('overall'), truth.overall, known?.overall)
  lab.snapshot.workloads.forEach(({ id }, index) => {
    countFigureInto(tally.perWorkload[index], find(`workload:${id}`), truth.perWorkload[index], known?.perWorkload[index])
  })
}

function countFigureInto(figure: FigureTally, estimate: Answer['estimates'][number] | undefined, truth: number, known: KnownError | undefined): void {
  figure.labs += 1
  if (truth === 0) {
    figure.zeroTruth += 1
    if (estimate?.verdict?.code.startsWith(FASTER) === true) figure.falseFaster += 1
  }
  if (estimate === undefined || estimate.low === null || estimate.high === null) return
  figure.intervals += 1
  const low = logOf(estimate.low)
  const high = logOf(estimate.high)
  if (low <= truth && truth <= high) figure.covered += 1
  if (known !== undefined) figure.widths.push((high - low) / 2 / (upperQuantile(known.df) * known.se))
}

/** Ratios are shown in percent: 100 (exp(log) - 1). */
function logOf(percent: number): number {
  return Math.log1p(percent / 100)
}
