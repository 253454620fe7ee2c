// One weighted mean over workloads, from what can carry it to its contrast. Each decides about drift from its own scores and starts, so that no
// workload, added or changed, moves the figures of another.
import type { GainSnapshot } from '@guardband/model'
import type { Cells } from './cells.ts'
import { contrast, NO_INTERVAL, type Contrast, type ScopedContrast } from './contrast.ts'
import { LEANING, LEAST_DF, measureDrift, withoutDrift, type Drift } from './drift.ts'
import type { Resolution } from './resolution.ts'
import { select, type Selection } from './selection.ts'

export interface AnalysisInput {
  readonly snapshot: GainSnapshot
  readonly cells: Cells
  readonly resolution: readonly (Resolution | null)[]
}

export interface Analysis {
  readonly selection: Selection
  readonly contrast: ScopedContrast
  /** Null when there is nothing to compare. */
  readonly drift: Drift | null
  readonly driftTakenOut: boolean
}

/** The workloads `wanted`, by index; all of them of one quality. */
export function analyse({ snapshot, cells, resolution }: AnalysisInput, wanted: readonly number[]): Analysis {
  const selection = select(snapshot, cells, wanted)
  const drift = selection.columns.length === 0 ? null : measureDrift(snapshot, cells, selection)
  const driftTakenOut = drift !== null && drift.standardError !== null && !drift.separated && drift.within === 'samples' && (drift.significant || isCheap(drift) || isLeaning(drift))
  const found = contrast({
    snapshot, selection, resolution,
    cells: driftTakenOut ? withoutDrift(snapshot, cells, selection) : cells,
    ...(driftTakenOut ? { slope: { variance: (drift.leverage * drift.standardError) ** 2, df: drift.df } } : {}),
  })
  const limit = snapshot.workloads[wanted[0]].compares === 'ratio' ? MOST_LOG_RATIO : MOST_DIFFERENCE
  return { selection, drift, driftTakenOut, contrast: { ...found, theseSamples: withinReach(found.theseSamples, limit), samplesLikeThese: withinReach(found.samplesLikeThese, limit) } }
}

/**
 * Where the sides took turns, a line over time costs next to nothing and keeps drift out of the scatter, so it is taken out whatever it shows: a rule on
 * the order alone, which no score can bend.
 */
function isCheap({ df, cost }: Drift): boolean {
  return df >= PLENTY_DF && cost <= CHEAP
}

/** Where one side ran later than the other, a drift too small to show would pass for gain. So the line is taken out there too, whatever it shows. */
function isLeaning({ df, lean }: Drift): boolean {
  return df >= LEAST_DF && lean > LEANING
}

/** One of 8 degrees of freedom widens the interval by 2.6 %, about as much as the median of an estimated deviation falls short. */
const PLENTY_DF = 8
/** 2 % of the variance is 1 % of the width. */
const CHEAP = 0.02

/** A factor of ten thousand million, or as many degrees: no bench measures that, a wrong unit or entry does. */
const MOST_DIFFERENCE = 1e10
const MOST_LOG_RATIO = Math.log(MOST_DIFFERENCE)

function withinReach(of: Contrast, limit: number): Contrast {
  return of.why === null && !(Math.abs(of.estimate) + (of.halfWidth ?? 0) <= limit) ? { ...NO_INTERVAL, estimate: of.estimate, why: 'out of reach' } : of
}
