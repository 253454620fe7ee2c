// Gain: is B faster (cooler, thriftier, quieter) than A, and by how much? From a snapshot to an answer, purely.
import { dayText, fixed, snapshotDigest, type Answer, type AnswerScope, type Estimate, type GainSnapshot, type View } from '@guardband/model'
import type { ComputeOptions } from '../define.ts'
import { basisOf } from './basis.ts'
import { buildCells, type Cells } from './cells.ts'
import { cautions, usedStarts } from './cautions.ts'
import { analyse } from './analysis.ts'
import { CONFIDENCE, type Contrast, type ScopedContrast } from './contrast.ts'
import { headline } from './headline.ts'
import { inOrder } from './in-order.ts'
import { jointSection } from './joint.ts'
import { methods } from './methods.ts'
import { noAnswer, noAnswerReason } from './no-answer.ts'
import { mainQuality, matters, qualityOf, shown, type Quality } from './quality.ts'
import { GAIN_REVISION } from './revision.ts'
import { resolutions } from './resolution.ts'
import { select, SIDES, type Selection } from './selection.ts'
import { settle, settleOrder } from './settle.ts'
import { isSettled, NOT_FAIR, verdictOf } from './verdict.ts'
import { worth } from './worth.ts'

/** The whole answer. Deterministic; never throws on difficult data: what can't be said is said to be so. A digest given must be the snapshot's own. */
export function compute(given: GainSnapshot, { digest = snapshotDigest(given), onProgress = ignore }: ComputeOptions = {}): Answer {
  const snapshot = inOrder(given)
  const cells = buildCells(snapshot)
  const reason = noAnswerReason(snapshot, cells)
  if (reason !== null) return noAnswer({ snapshot, cells, digest, reason })

  const quality = mainQuality(snapshot)
  const main = snapshot.workloads.flatMap((workload, index) => (qualityOf(workload) === quality ? [index] : []))
  const resolution = resolutions(snapshot)
  const over = (wanted: readonly number[]) => analyse({ snapshot, cells, resolution }, wanted)
  const { selection, contrast: overall, drift, driftTakenOut } = over(main)
  if (selection.columns.length === 0) return noAnswer({ snapshot, cells, digest, reason: 'No workload has scores on both sides for the samples compared: there is nothing to compare.' })

  // One workload is its own overall, held to its own smallest change that matters.
  const threshold = matters(snapshot, quality, main.length === 1 ? snapshot.workloads[main[0]].matters : undefined)
  const scope = headlineScope(selection, overall)

  const withSetAside = cells.setAside.length === 0 ? null : overallWithSetAside(snapshot, scope)
  const groupColumns = groupsOf(snapshot, selection)
  const steps = snapshot.workloads.length + groupColumns.length
  let done = 0
  const counted = <Row>(row: Row): Row => {
    onProgress(++done / steps)
    return row
  }
  const rows = snapshot.workloads.map((workload, index) => counted({ workload, index, quality: qualityOf(workload), ...over([index]) }))
  const groups = groupColumns.map(({ name, columns }) => counted({ name, columns, ...over(columns) }))
  const drifting = rows.filter((row) => row.driftTakenOut && row.drift?.significant === true).map((row) => row.workload.label)
  const warnings = cautions({ snapshot, cells, selection, contrast: overall, resolution, quality, threshold, drift, driftTakenOut, drifting, withSetAside })
  const stop = warnings.find((caution) => caution.severity === 'stops')

  const total = main.length
  const label = total === 1 ? snapshot.workloads[main[0]].label : selection.columns.length === total ? 'Overall (weighted)' : `Overall (${selection.columns.length} of ${total} workloads)`
  const where = total === 1 ? `in ${snapshot.workloads[main[0]].label}` : selection.columns.length === total ? 'overall' : `over ${selection.columns.length} of ${total} workloads`

  const estimates = SCOPES.flatMap((each): Estimate[] => [
    ...rows.map((row) =>
      estimate({
        snapshot, cells, scope: each, role: 'workload', key: `workload:${row.workload.id}`, label: row.workload.label, contrast: row.contrast, quality: row.quality, columns: [row.index],
        ...(row.workload.group === undefined ? {} : { group: row.workload.group }),
        threshold: matters(snapshot, row.quality, row.workload.matters), note: failedNote(snapshot, cells, row.index),
      }),
    ),
    ...groups.map((group) =>
      estimate({ snapshot, cells, scope: each, role: 'group', key: `group:${group.name}`, label: group.name, group: group.name, contrast: group.contrast, quality, columns: group.columns, threshold, note: null }),
    ),
    estimate({ snapshot, cells, scope: each, role: 'overall', key: 'overall', label, contrast: overall, quality, columns: selection.columns, threshold, note: null }),
  ])

  const plan = (each: AnswerScope) => {
    const input = { snapshot, cells, selection, contrast: overall, threshold, scope: each }
    if (stop !== undefined) return stop.code === 'drift-confounded' ? settleOrder(input) : null
    const { why } = pick(overall, each)
    return isSettled(verdictFor(each).code) || why === 'one sample' || why === 'out of reach' ? null : settle(input)
  }
  const verdictFor = (each: AnswerScope) => verdictOf({ estimate: pick(overall, each).estimate, halfWidth: pick(overall, each).halfWidth, threshold }, quality)
  const views = SCOPES.map((each): View => {
    const chosen = pick(overall, each)
    const measured = verdictFor(each)
    const verdict = stop === undefined ? measured : NOT_FAIR
    const estimateShown = estimates.find((candidate) => candidate.role === 'overall' && candidate.scope === each)
    const { value, low, high } = estimateShown ?? { value: null, low: null, high: null }
    const why = whyNoInterval(chosen, selection, overall)
    return {
      scope: each,
      verdict,
      headline: headline({
        sides: [snapshot.sides[0].label, snapshot.sides[1].label], quality, verdict, measured, where, settle: plan(each), why, stop: stop?.title ?? null,
        interval: value === null || low === null || high === null ? null : { value, low, high },
        limits: [0, shown(threshold, quality), shown(-threshold, quality)],
      }),
      ...(chosen.halfWidth === null ? { unavailable: `${why.charAt(0).toUpperCase()}${why.slice(1)}.` } : {}),
    }
  })

  const value = worth(snapshot, quality.name === 'speed' ? pick(overall, scope) : { ...pick(overall, scope), halfWidth: null })
  const joint = jointSection(rows.filter((row) => row.contrast.starts[0] > 0).map((row) => ({ label: row.workload.label, contrast: pick(row.contrast, scope), quality: row.quality })), scope)
  const holes = usedStarts({ snapshot, cells, selection }).length > 0 && hasHoles(snapshot, cells, selection)
  return {
    schema: 1,
    kind: 'gain',
    revision: GAIN_REVISION,
    question: snapshot.question,
    lab: snapshot.lab.name,
    simulated: snapshot.lab.simulated,
    snapshotDigest: digest,
    status: 'computed',
    sides: [snapshot.sides[0].label, snapshot.sides[1].label],
    scope,
    views,
    estimates: value === null ? estimates : [...estimates, { ...worthEstimate(scope), ...value.estimate }],
    basis: basisOf(snapshot, cells, selection),
    cautions: [...warnings],
    settle: plan(scope),
    sections: [...(value === null ? [] : [{ code: 'worth', title: `Worth it? (${scope})`, sentences: [...value.sentences] }]), ...(joint === null ? [] : [joint])],
    methods: methods({ selection, holes, drift: driftTakenOut || rows.some((row) => row.driftTakenOut) ? 'taken out' : 'left', pooled: overall.theseSamples.pooled || overall.samplesLikeThese.pooled, rounding: rows.some((row) => pick(row.contrast, scope).rounding) }),
    band: bandText(snapshot, quality, threshold),
  }
}

function ignore(): void {}

export const SCOPES: readonly AnswerScope[] = ['these samples', 'samples like these']

/** With fewer samples than this on a side, samples like these is a wide guess: the headline speaks of the samples tested. */
const FEW_SAMPLES = 5

function headlineScope(selection: Selection, overall: ScopedContrast): AnswerScope {
  if (overall.samplesLikeThese.halfWidth === null) return 'these samples'
  if (overall.theseSamples.halfWidth === null) return 'samples like these'
  return selection.samples.some((side) => side.length < FEW_SAMPLES) ? 'these samples' : 'samples like these'
}

export function pick(contrasts: ScopedContrast, scope: AnswerScope): Contrast {
  return scope === 'these samples' ? contrasts.theseSamples : contrasts.samplesLikeThese
}

function groupsOf(snapshot: GainSnapshot, selection: Selection): readonly { readonly name: string; readonly columns: readonly number[] }[] {
  const groups = new Map<string, number[]>()
  for (const column of selection.columns) {
    const name = snapshot.workloads[column].group
    if (name !== undefined) groups.set(name, [...(groups.get(name) ?? []), column])
  }
  if (groups.size < 2) return []
  return [...groups].filter(([, columns]) => columns.length > 1).map(([name, columns]) => ({ name, columns }))
}

interface EstimateInput {
  readonly snapshot: GainSnapshot
  readonly cells: Cells
  readonly scope: AnswerScope
  readonly role: Estimate['role']
  readonly key: string
  readonly label: string
  readonly group?: string
  readonly contrast: ScopedContrast
  readonly quality: Quality
  readonly columns: readonly number[]
  readonly threshold: number
  readonly note: string | null
}

function estimate(input: EstimateInput): Estimate {
  const { cells, columns, contrast: both, quality, scope, threshold } = input
  const chosen = pick(both, scope)
  const known = chosen.why !== 'no samples'
  const count = (of: readonly [Int32Array, Int32Array]): [number, number] => [columns.reduce((sum, column) => sum + of[0][column], 0), columns.reduce((sum, column) => sum + of[1][column], 0)]
  const chosenSelection = select(input.snapshot, cells, columns)
  const value = known && chosen.why !== 'out of reach' && chosen.why !== 'one sample' ? finiteOrNull(shown(chosen.estimate, quality)) : null
  const low = chosen.halfWidth === null ? null : finiteOrNull(shown(chosen.estimate - chosen.halfWidth, quality))
  const high = chosen.halfWidth === null ? null : finiteOrNull(shown(chosen.estimate + chosen.halfWidth, quality))
  const whole = value !== null && low !== null && high !== null
  const note = input.note ?? (whole ? null : chosen.why === 'one sample' ? 'one sample: no interval' : chosen.why === 'one start a side' ? 'too few starts: no interval' : chosen.why === 'out of reach' ? 'scores too far apart' : 'no score on both sides')
  return {
    key: input.key, role: input.role, label: input.label, ...(input.group === undefined ? {} : { group: input.group }), scope,
    value, low: whole ? low : null, high: whole ? high : null,
    confidence: CONFIDENCE, unit: quality.unit,
    bandLow: finiteOrNull(shown(-threshold, quality)), bandHigh: finiteOrNull(shown(threshold, quality)),
    computed: known ? { estimate: chosen.estimate, standardError: chosen.standardError, df: chosen.df } : null,
    verdict: whole ? verdictOf({ estimate: chosen.estimate, halfWidth: chosen.halfWidth, threshold }, quality) : null,
    samples: [chosenSelection.samples[0].length, chosenSelection.samples[1].length],
    starts: [both.starts[0], both.starts[1]],
    runs: count(cells.scored), failed: count(cells.failed),
    ...(note === null ? {} : { note }),
  }
}

/** As a clause of a sentence. */
function whyNoInterval({ why }: Contrast, selection: Selection, overall: ScopedContrast): string {
  if (why === 'one sample') return 'one sample can’t speak for others of its kind'
  if (why === 'out of reach') return 'the scores lie too far apart to be one measure'
  const single = SIDES.every((side) => overall.starts[side] === selection.samples[side].length)
  return single ? 'one start a side gives no interval' : 'too few starts share enough workloads to give an interval'
}

function worthEstimate(scope: AnswerScope): Estimate {
  return { key: 'worth:break-even', role: 'worth', label: '', scope, value: null, low: null, high: null, confidence: CONFIDENCE, unit: '', bandLow: null, bandHigh: null, computed: null, verdict: null, samples: [0, 0], starts: [0, 0], runs: [0, 0], failed: [0, 0] }
}

/** A ratio past the range of doubles can't be printed; the row then says that it has no figure. */
function finiteOrNull(value: number): number | null {
  return Number.isFinite(value) ? value : null
}

function failedNote(snapshot: GainSnapshot, cells: Cells, workload: number): string | null {
  const sides = ([0, 1] as const).filter((side) => cells.scored[side][workload] === 0)
  if (sides.length === 0) return null
  return sides.map((side) => (cells.failed[side][workload] > 0 ? `${snapshot.sides[side].label}: ${cells.failed[side][workload] === 1 ? 'the only run' : `all ${cells.failed[side][workload]} runs`} failed` : `${snapshot.sides[side].label}: no runs`)).join('; ')
}

function hasHoles(snapshot: GainSnapshot, cells: Cells, selection: Selection): boolean {
  return snapshot.starts.some((start, index) => {
    if (!selection.samples[start.side].includes(start.sample)) return false
    const filled = selection.columns.filter((column) => cells.count[index * cells.workloadCount + column] > 0).length
    return filled > 0 && filled < selection.columns.length
  })
}

/** The overall in the same scope with the runs set aside counted again: both answers can be seen. */
function overallWithSetAside(snapshot: GainSnapshot, scope: AnswerScope): number | null {
  const whole = { ...snapshot, runs: { ...snapshot.runs, setAside: snapshot.runs.setAside.map(() => null) } }
  const cells = buildCells(whole)
  const quality = mainQuality(whole)
  const wanted = whole.workloads.flatMap((workload, index) => (qualityOf(workload) === quality ? [index] : []))
  const chosen = pick(analyse({ snapshot: whole, cells, resolution: resolutions(whole) }, wanted).contrast, scope)
  return chosen.why === 'no samples' ? null : chosen.estimate
}

/** For amounts that would print with an exponent. */
const MOST_DECIMALS = 6

function bandText(snapshot: GainSnapshot, quality: Quality, threshold: number): string {
  const unit = quality.unit === 'degC' ? '°C' : quality.unit
  const exact = Number(shown(threshold, quality).toPrecision(4))
  const amount = String(exact).includes('e') ? fixed(exact, MOST_DECIMALS) : String(exact)
  const origin = quality.name === 'speed' ? `fixed on ${dayText(snapshot.smallestGain.fixedAt)}` : 'a house default'
  return `Bars are 95 % intervals; the band is a difference too small to matter: under ${amount} ${unit}, ${origin}.`
}
