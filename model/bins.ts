/**
 * What a sample's runs say of the criteria of its part's bins: met, not met or open, each with the figure it rests on.
 *
 * A measure is the mean over starts of start means, since repeats within a start are no independent evidence. A crash is a result: where a tune
 * must run clean, one failure in force at it, or a start that was asked for it and did not come up at it, is enough. What a person set aside is left out and counted.
 */
import { counted, exact } from './figures.ts'
import type { Bin, BinCriterion, Part } from './records/parts.ts'
import { COMPARABLE_OUTCOMES, NEUTRAL_OUTCOMES, type Outcome } from './records/run.ts'
import { unitText } from './units.ts'

export interface BinRun {
  readonly workloadId: string
  /** In force while it ran; null where what was in force matches no tune. */
  readonly tuneId: string | null
  readonly outcome: Outcome
  readonly measures: readonly { readonly name: string; readonly value: number }[]
  readonly setAside: boolean
}

/** One start of a rig that the sample sat in. */
export interface BinStart {
  readonly askedId: string | null
  /** Whether the machine came up at what was asked. */
  readonly cameUp: boolean
  readonly runs: readonly BinRun[]
}

export type CriterionState = 'met' | 'not met' | 'open'

export interface CriterionFinding {
  readonly state: CriterionState
  /** Mean over starts of start means; null where nothing was measured or the criterion counts runs. */
  readonly mean: number | null
  /** Lowest and highest single run behind the mean. */
  readonly low: number | null
  readonly high: number | null
  /** Starts and runs behind the mean, or that were clean. */
  readonly starts: number
  readonly runs: number
  /** Failed runs and starts that fall under the criterion. */
  readonly failed: number
  readonly setAside: number
  /** Tunes behind the figure, where the criterion names none: above one the mean mixes them. */
  readonly tunes: number
}

export interface BinFinding {
  readonly binId: string
  readonly state: CriterionState
  readonly criteria: readonly CriterionFinding[]
}

export interface Sorting {
  readonly bins: readonly BinFinding[]
  /** The dearest bin whose criteria are all met. */
  readonly suggestedId: string | null
  /** Dearer bins that more runs could still open. */
  readonly openAboveIds: readonly string[]
}

/** Holds one sample's starts against the bins of its part. A bin without criteria takes every sample. */
export function sortSample(bins: readonly Bin[], starts: readonly BinStart[]): Sorting {
  const dearest = dearestFirst(bins)
  const found = dearest.map((bin): BinFinding => {
    const criteria = bin.criteria.map((criterion) => criterionFinding(criterion, starts))
    return { binId: bin.id, state: together(criteria), criteria }
  })
  const place = found.findIndex((bin) => bin.state === 'met')
  const above = place === -1 ? found : found.slice(0, place)
  return {
    bins: found,
    suggestedId: found[place]?.binId ?? null,
    openAboveIds: above.filter((bin) => bin.state === 'open').map((bin) => bin.binId),
  }
}

export function criterionFinding(criterion: BinCriterion, starts: readonly BinStart[]): CriterionFinding {
  return criterion.what === 'measure' ? measureFinding(criterion, starts) : cleanFinding(criterion, starts)
}

/** Latest price first; one without a price comes last, and of two at one price the one that asks more comes first. */
export function dearestFirst(bins: readonly Bin[]): readonly Bin[] {
  return bins.toSorted((a, b) => (latestPrice(b)?.amount ?? -1) - (latestPrice(a)?.amount ?? -1) || b.criteria.length - a.criteria.length || a.id.localeCompare(b.id))
}

/** The price that counts: the one with the latest date, of two on one moment the one entered last. */
export function latestPrice(of: Pick<Part, 'prices'>): Part['prices'][number] | undefined {
  return of.prices.reduce<Part['prices'][number] | undefined>((best, price) => (best === undefined || Date.parse(price.at) >= Date.parse(best.at) ? price : best), undefined)
}

/** A criterion as a person would say it: "score of code build at least 1840 points, at eco 95 W". */
export function criterionText(criterion: BinCriterion, names: { readonly nameOf: (id: string) => string; readonly unit: string }): string {
  const tune = criterion.tuneId === undefined ? '' : `, at ${names.nameOf(criterion.tuneId)}`
  if (criterion.what === 'measure') {
    const unit = unitText(names.unit)
    return `${criterion.measure} of ${names.nameOf(criterion.workloadId)} ${criterion.bound} ${exact(criterion.value)}${unit === '' ? '' : ` ${unit}`}${tune}`
  }
  return `${counted(criterion.count, 'clean run')} of ${criterion.workloadId === undefined ? 'any workload' : names.nameOf(criterion.workloadId)}${tune}, none failed`
}

function together(criteria: readonly CriterionFinding[]): CriterionState {
  if (criteria.some(({ state }) => state === 'not met')) return 'not met'
  return criteria.some(({ state }) => state === 'open') ? 'open' : 'met'
}

function measureFinding(criterion: Extract<BinCriterion, { what: 'measure' }>, starts: readonly BinStart[]): CriterionFinding {
  const means: number[] = []
  const values: number[] = []
  const tunes = new Set<string | null>()
  let failed = 0
  let setAside = 0
  for (const start of starts) {
    const here: number[] = []
    for (const run of start.runs) {
      if (run.workloadId !== criterion.workloadId || (criterion.tuneId !== undefined && run.tuneId !== criterion.tuneId)) continue
      if (run.setAside) setAside++
      else if (!COMPARABLE_OUTCOMES.has(run.outcome)) failed += NEUTRAL_OUTCOMES.has(run.outcome) ? 0 : 1
      else {
        const value = run.measures.find(({ name }) => name === criterion.measure)?.value
        if (value === undefined) continue
        here.push(value)
        tunes.add(run.tuneId)
      }
    }
    if (here.length > 0) means.push(meanOf(here))
    values.push(...here)
  }
  const mean = means.length === 0 ? null : meanOf(means)
  const holds = mean !== null && (criterion.bound === 'at least' ? mean >= criterion.value : mean <= criterion.value)
  return {
    // Runs that all failed are evidence: the sample did not show what is asked. No run at all is none.
    state: mean === null ? (failed > 0 ? 'not met' : 'open') : holds ? 'met' : 'not met',
    mean, low: mean === null ? null : Math.min(...values), high: mean === null ? null : Math.max(...values),
    starts: means.length, runs: values.length, failed, setAside, tunes: criterion.tuneId === undefined ? tunes.size : 0,
  }
}

function cleanFinding(criterion: Extract<BinCriterion, { what: 'clean runs' }>, starts: readonly BinStart[]): CriterionFinding {
  let [clean, cleanStarts, failed, setAside] = [0, 0, 0, 0]
  for (const start of starts) {
    let cleanHere = 0
    let startFailed = start.askedId === criterion.tuneId && !start.cameUp
    for (const run of start.runs) {
      if (START_FAILURES.has(run.outcome)) {
        if (start.askedId !== criterion.tuneId) continue
        if (run.setAside) setAside++
        else startFailed = true
        continue
      }
      if (run.tuneId !== criterion.tuneId || (criterion.workloadId !== undefined && run.workloadId !== criterion.workloadId)) continue
      if (run.setAside) setAside++
      else if (COMPARABLE_OUTCOMES.has(run.outcome)) cleanHere++
      else if (!NEUTRAL_OUTCOMES.has(run.outcome)) failed++
    }
    if (startFailed) failed++
    if (cleanHere > 0) cleanStarts++
    clean += cleanHere
  }
  return { state: failed > 0 ? 'not met' : clean >= criterion.count ? 'met' : 'open', mean: null, low: null, high: null, starts: cleanStarts, runs: clean, failed, setAside, tunes: 0 }
}

/** Outcomes that speak of the start, whatever workload was to follow: they count for the tune that was asked for. */
const START_FAILURES: ReadonlySet<Outcome> = new Set<Outcome>(['no start', 'fallback start', 'system fails to load'])

function meanOf(values: readonly number[]): number {
  return values.reduce((sum, value) => sum + value, 0) / values.length
}
