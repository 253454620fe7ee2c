// The cautions of a Gain answer, each from a fact of the snapshot, with the runs it rests on.
import { counted, dayText, decimalsFor, fixed, signed, type Caution, type GainSnapshot, type GainStart } from '@guardband/model'
import type { Cells } from './cells.ts'
import type { ScopedContrast } from './contrast.ts'
import { LEANING, type Drift } from './drift.ts'
import { fairness, list, SEVERITIES } from './fairness.ts'
import { shown, type Quality } from './quality.ts'
import type { Resolution } from './resolution.ts'
import { SIDES, type Selection } from './selection.ts'

export interface CautionInput {
  readonly snapshot: GainSnapshot
  readonly cells: Cells
  readonly selection: Selection
  readonly contrast: ScopedContrast
  readonly resolution: readonly (Resolution | null)[]
  readonly quality: Quality
  readonly threshold: number
  readonly drift: Drift | null
  readonly driftTakenOut: boolean
  /** Workloads whose own drift was taken out. */
  readonly drifting: readonly string[]
  /** Overall in the headline's scope had the runs set aside counted; null when none were. */
  readonly withSetAside: number | null
}

/** All cautions, those that stop first. */
export function cautions(input: CautionInput): readonly Caution[] {
  const used = usedStarts(input)
  return [
    ...fairness(input.snapshot, used), ...driftCautions(input), ...scopeCautions(input, used), ...workloadCautions(input), ...failureCautions(input), ...evidenceCautions(used), ...limitCautions(input.snapshot, used), ...setAsideCautions(input),
  ].map((caution) => ({ ...caution, records: caution.records.slice(0, MOST_RECORDS) })).toSorted((a, b) => SEVERITIES.indexOf(a.severity) - SEVERITIES.indexOf(b.severity))
}

/** Ids kept with a caution. */
const MOST_RECORDS = 200
/** Share of failed runs above which the caution is marked. */
const MANY_FAILED = 0.05

export function usedStarts({ snapshot, cells, selection }: Pick<CautionInput, 'snapshot' | 'cells' | 'selection'>): readonly GainStart[] {
  return snapshot.starts.filter(
    (start, index) => selection.samples[start.side].includes(start.sample) && selection.columns.some((workload) => cells.count[index * cells.workloadCount + workload] > 0),
  )
}

function driftCautions({ selection, contrast, drift, driftTakenOut, drifting, snapshot, quality, threshold }: CautionInput): readonly Caution[] {
  if (drift === null) return []
  const unit = quality.unit === 'degC' ? '°C' : quality.unit
  const amount = (value: number) => {
    const size = Math.abs(shown(value, quality))
    return Number.isFinite(size) ? `${fixed(size, Math.max(LEAST_DECIMALS, decimalsFor(size)))} ${unit}` : 'any size'
  }
  if (drift.separated) {
    const [first, second] = drift.leverage > 0 ? [0, 1] : [1, 0]
    const each = selection.pairing === 'same' && selection.samples[0].length > 1 ? ' of the same sample' : ''
    const order = `Every start of ${snapshot.sides[first].label} came before every start of ${snapshot.sides[second].label}${each}, so drift over the day can't be told from the gain`
    // Without an interval nothing is claimed that drift could have made.
    if (contrast.theseSamples.halfWidth === null && contrast.samplesLikeThese.halfWidth === null) {
      return [{ code: 'order', severity: 'warns', title: 'Order and side go together', records: [], text: `${order}. Make the next starts in the opposite order.` }]
    }
    if (drift.slope === null) return [{ code: 'drift-confounded', severity: 'stops', title: 'Order and side go together', records: [], text: `${order}, and there are too few starts to see how much there was.` }]
    if (drift.bound > threshold) {
      return [{ code: 'drift-confounded', severity: 'stops', title: 'Order and side go together', records: [], text: `${order}. The starts can't rule out that drift alone made a difference of ${amount(drift.bound)}, more than the smallest gain that matters.` }]
    }
    return [{ code: 'order', severity: 'warns', title: 'Order and side go together', records: [], text: `${order}. Within the sides it was small: it can account for at most ${amount(drift.bound)}.` }]
  }
  if (drift.lean > LEANING && drift.bound > threshold && !driftTakenOut && !drift.significant && contrast.theseSamples.halfWidth !== null) {
    const [first, second] = drift.leverage > 0 ? [0, 1] : [1, 0]
    return [{
      code: 'order-leans', severity: 'warns', title: 'One side ran later', records: [],
      text: `On the whole ${snapshot.sides[second].label} ran later than ${snapshot.sides[first].label}, and there are too few starts to tell drift from gain: drift alone can account for ${amount(drift.bound)}. Make the next starts in the opposite order.`,
    }]
  }
  if (drift.slope === null || !drift.significant) {
    return drifting.length === 0 ? [] : [{ code: 'workload-drift', severity: 'notes', title: 'Drift in single workloads', records: [], text: `Taken out of ${list(drifting)}; the overall shows none.` }]
  }
  const slid = `Scores ${drift.slope < 0 ? 'fell' : 'rose'} ${amount(drift.slope)} ${drift.per === 'hour' ? 'an hour' : 'a start'}`
  if (!driftTakenOut) return [{ code: 'drift-left', severity: 'warns', title: 'Drift from sample to sample', records: [], text: `${slid}. With one start of a sample on each side this may be the samples themselves, so it stays in the figures; drift alone would have added ${signed(shown(drift.bias, quality), 2)} ${unit}.` }]
  const added = signed(shown(drift.bias, quality), LEAST_DECIMALS)
  const effect = Number(added) === 0 ? 'the sides took turns, so it hardly touches the gain' : `left in, it would have added ${added} ${unit}`
  // A slide below the smallest gain that matters from the first start to the last is worth a note, no warning.
  const severity = Math.abs(drift.slope) * drift.span > threshold ? 'warns' : 'notes'
  return [{ code: 'drift', severity, title: drift.per === 'hour' ? 'Drift over the day' : 'Drift over the starts', records: [], text: `${slid}. It is taken out of the figures; ${effect}.` }]
}

const LEAST_DECIMALS = 2

/** A reader sees an interval that is a quarter narrower. */
const NARROWER = 0.75

/** Two power-ons a side are the least that shows how they differ. */
const LEAST_POWER_ONS = 2

function scopeCautions({ snapshot, selection, contrast }: CautionInput, used: readonly GainStart[]): readonly Caution[] {
  const found: Caution[] = []
  if (used.length > 0 && contrast.theseSamples.why === 'one start a side') {
    found.push({ code: 'one-start', severity: 'warns', title: 'Too few starts', records: [], text: 'Each sample has too few starts on each side to show how much starts differ, so there is no interval for these samples.' })
  }
  if (contrast.theseSamples.why === 'out of reach' || contrast.samplesLikeThese.why === 'out of reach') {
    found.push({ code: 'out-of-reach', severity: 'warns', title: 'Scores too far apart', records: [], text: 'The scores differ by more than any bench measures. Look for a wrong unit, or for an entry with too many or too few digits.' })
  }
  const ids = [...new Set(SIDES.flatMap((side) => selection.samples[side]))]
  const samples = ids.map((index) => snapshot.samples[index])
  const few = SIDES.filter((side) => selection.samples[side].length === 1)
  if (few.length > 0 && used.length > 0) {
    const who = selection.pairing === 'same' ? `One ${snapshot.slot} sample ran on both sides` : `${list(few.map((side) => snapshot.sides[side].label))} ${few.length === 1 ? 'rests on one sample' : 'rest on one sample each'}`
    found.push({ code: 'one-sample', severity: 'warns', title: 'One sample', records: [], text: `${who}: nothing shows how others of the kind would do.` })
  }
  const chosen = samples.filter((sample) => sample.picked === 'chosen')
  const unknown = samples.filter((sample) => sample.picked === 'unknown')
  if (chosen.length > 0) {
    const origin = chosen.every((sample) => sample.origin === 'press') ? ' from press deliveries' : ''
    found.push({ code: 'chosen-samples', severity: 'warns', title: 'Samples were chosen', records: chosen.map((sample) => sample.id), text: `${list(chosen.map((sample) => sample.label))}${origin}: others of the kind may differ by more than the interval for samples like these says.` })
  } else if (unknown.length > 0) {
    found.push({ code: 'picking-unknown', severity: 'notes', title: 'How samples were picked is not known', records: unknown.map((sample) => sample.id), text: `This is so for ${unknown.length} of ${counted(samples.length, 'sample')}. The interval for samples like these holds only if they were picked at random.` })
  }
  const early = samples.filter((sample) => sample.origin === 'pre-production')
  if (early.length > 0) found.push({ code: 'early-samples', severity: 'warns', title: 'Pre-production samples', records: early.map((sample) => sample.id), text: `${list(early.map((sample) => sample.label))}: retail parts may differ.` })
  const unfit = samples.filter((sample) => sample.status === 'quarantined' || sample.status === 'wet')
  if (unfit.length > 0) found.push({ code: 'unfit-samples', severity: 'warns', title: 'Quarantined or wet samples', records: unfit.map((sample) => sample.id), text: `${list(unfit.map((sample) => `${sample.label} (${sample.status})`))} took part.` })
  for (const { tune, reason, by } of snapshot.pastCeilings ?? []) found.push({ code: 'past-ceiling', severity: 'warns', title: 'A tune past a ceiling', records: [], text: `${by} let ${tune} pass a ceiling of the lab: ${reason.trim().replace(/\.$/, '')}.` })
  for (const left of selection.leftOut) {
    if (left.kind === 'sample on one side only') found.push({ code: 'sample-one-side', severity: 'warns', title: 'A sample ran on one side only', records: [snapshot.samples[left.sample].id], text: `${snapshot.samples[left.sample].label} ran only as ${snapshot.sides[left.side].label}; the answer rests on the samples that ran on both sides.` })
    if (left.kind === 'sample without workload') found.push({ code: 'sample-left-out', severity: 'warns', title: 'A sample is left out of the overall', records: [snapshot.samples[left.sample].id], text: `${snapshot.samples[left.sample].label} has no score in ${list(left.workloads.map((workload) => snapshot.workloads[workload].label))}.` })
  }
  if (contrast.theseSamples.pooled && contrast.theseSamples.halfWidth !== null) found.push({ code: 'pooled-starts', severity: 'notes', title: 'Scatter pooled over the sides', records: [], text: 'A side has too few starts for a variance of its own: both sides are taken to scatter alike.' })
  const [these, like] = [contrast.theseSamples.halfWidth, contrast.samplesLikeThese.halfWidth]
  if (these !== null && like !== null && like < NARROWER * these) found.push({ code: 'like-narrower', severity: 'notes', title: 'Samples agree by chance', records: [], text: 'These samples happen to agree better than their starts scatter, so the interval for samples like these came out the narrower one. Hold to the wider.' })
  if (contrast.samplesLikeThese.pooled) found.push({ code: 'pooled-samples', severity: 'notes', title: 'Spread pooled over the sides', records: [], text: 'A side has only two samples: for samples like these both kinds are taken to spread alike.' })
  return found
}

function workloadCautions({ snapshot, cells, selection, resolution }: CautionInput): readonly Caution[] {
  const found: Caution[] = []
  const lost = selection.leftOut.filter((left) => left.kind === 'workload without scores' || left.kind === 'workload missing on samples')
  if (lost.length > 0 && selection.columns.length > 0) {
    const names = lost.map((left) => {
      const label = snapshot.workloads[left.workload].label
      return left.kind === 'workload without scores' ? `${label} has no score on ${list(left.sides.map((side) => snapshot.sides[side].label))}` : `${label} is missing on ${counted(left.samples.length, 'sample')}`
    })
    const total = selection.columns.length + lost.length
    found.push({ code: 'failed-workload', severity: 'warns', title: `${selection.columns.length} of ${total} workloads`, records: [], text: `${list(names)}. The overall is over the other ${selection.columns.length}, weights scaled to match.` })
  }
  if (cells.unusable.length > 0) found.push(unusableCaution(snapshot, cells.unusable))
  const tied = snapshot.workloads.filter((_, index) => resolution[index]?.ties === true)
  if (tied.length > 0) found.push({ code: 'tied-scores', severity: 'notes', title: 'Scores tie', records: [], text: `${list(tied.map((workload) => workload.label))}: the instrument's step hides the scatter, so the interval is at least what rounding allows.` })
  return found
}

/** Scores that have no ratio or no sense, and runs that should have a score and have none. */
export function unusableCaution(snapshot: GainSnapshot, unusable: Cells['unusable']): Caution {
  const missing = unusable.filter((run) => run.value === null).length
  const absurd = unusable.filter((run) => run.value !== null && snapshot.workloads[run.workload].compares === 'difference').length
  const zero = unusable.length - missing - absurd
  const texts = [
    ...(zero > 0 ? [`${counted(zero, 'run')} scored zero or less, which has no ratio`] : []),
    ...(missing > 0 ? [`${counted(missing, 'run')} carried no measure`] : []),
    ...(absurd > 0 ? [`${counted(absurd, 'run')} gave a figure beyond any instrument`] : []),
  ]
  return {
    code: 'unusable-score', severity: 'warns', title: 'Scores that can’t be compared', records: unusable.slice(0, MOST_RECORDS).map((run) => run.id),
    text: `${list(texts)}. ${unusable.length === 1 ? 'It counts as failed; correct it, or set it aside with a reason.' : 'They count as failed; correct them, or set them aside with a reason.'}`,
  }
}

function failureCautions({ snapshot, cells }: CautionInput): readonly Caution[] {
  const found: Caution[] = []
  if (cells.failedRuns.length > 0) {
    const perSide = SIDES.map((side) => {
      const own = cells.failedRuns.filter((run) => run.side === side)
      return own.length === 0 ? null : `${snapshot.sides[side].label} ${own.length} (${outcomes(own)})`
    }).filter((text) => text !== null)
    // Of the runs that count: those set aside or stopped by a person say nothing here.
    const counting = [...cells.scored, ...cells.failed].flatMap((list) => [...list]).reduce((sum, count) => sum + count, 0)
    const share = cells.failedRuns.length / counting
    found.push({ code: 'failed-runs', severity: share > MANY_FAILED ? 'warns' : 'notes', title: `${counted(cells.failedRuns.length, 'run')} failed`, records: cells.failedRuns.slice(0, MOST_RECORDS).map((run) => run.id), text: `${list(perSide)}. A gain says nothing about holding up.` })
  }
  if (snapshot.failedStarts.length > 0) {
    const perSide = SIDES.map((side) => snapshot.failedStarts.filter((start) => start.side === side).length)
    const texts = SIDES.filter((side) => perSide[side] > 0).map((side) => `${snapshot.sides[side].label} ${perSide[side]}`)
    found.push({ code: 'failed-starts', severity: 'warns', title: 'Starts that failed or fell back', records: snapshot.failedStarts.slice(0, MOST_RECORDS).map((start) => start.id), text: `${list(texts)}. What ran at fallback settings is not counted under the tune.` })
  }
  return found
}

function outcomes(runs: readonly { readonly outcome: string }[]): string {
  const counts = new Map<string, number>()
  for (const { outcome } of runs) counts.set(outcome, (counts.get(outcome) ?? 0) + 1)
  return list([...counts].sort((a, b) => b[1] - a[1] || a[0].localeCompare(b[0])).map(([outcome, count]) => (counts.size === 1 ? outcome : `${count} ${outcome}`)))
}

function evidenceCautions(used: readonly GainStart[]): readonly Caution[] {
  if (used.length === 0) return []
  const found: Caution[] = []
  const powered = SIDES.map((side) => used.filter((start) => start.side === side && start.how !== 'live').length)
  if (Math.min(...powered) < LEAST_POWER_ONS && powered[0] + powered[1] < used.length) {
    const rest = powered[0] + powered[1]
    const which = rest === 0 ? 'Every start is a live change' : `All but ${counted(rest, 'start')} are live changes`
    found.push({ code: 'live-only', severity: 'warns', title: rest === 0 ? 'No power-on between tunes' : 'Hardly a power-on between tunes', records: [], text: `${which}: how scores vary from one power-on and memory training to the next was not sampled.` })
  }
  const unverified = used.filter((start) => start.known === 'unverified')
  if (unverified.length > 0) found.push({ code: 'unverified', severity: 'warns', title: 'In force not verified', records: unverified.slice(0, MOST_RECORDS).map((start) => start.id), text: `In ${unverified.length} of ${counted(used.length, 'start')} nothing shows that the settings asked for were in force.` })
  const boards = [...new Set(used.map((start) => start.partners.board).filter((board) => board !== undefined))]
  if (boards.length === 1) found.push({ code: 'one-board', severity: 'notes', title: 'One board', records: [], text: `Every start ran on ${boards[0]}; nothing shows how another board would do.` })
  const fallback = used.filter((start) => start.training?.result === 'fallback' || start.training?.result === 'failed')
  if (fallback.length > 0) found.push({ code: 'training', severity: 'warns', title: 'Memory training failed or fell back', records: fallback.map((start) => start.id).slice(0, MOST_RECORDS), text: `This is so for ${fallback.length} of ${counted(used.length, 'start')}: check what was in force there.` })
  return found
}

/** A limit chosen with the scores in sight can be chosen to give the verdict that is wished for. */
function limitCautions({ smallestGain }: GainSnapshot, used: readonly GainStart[]): readonly Caution[] {
  const fixedAt = Date.parse(smallestGain.fixedAt)
  const before = used.filter((start) => start.at !== undefined && Date.parse(start.at) < fixedAt)
  if (before.length === 0) return []
  const which = before.length === used.length ? 'all starts were made' : `${fixed(before.length, 0)} of ${counted(used.length, 'start')} ${before.length === 1 ? 'was' : 'were'} made`
  return [{ code: 'limit-after-data', severity: 'notes', title: 'Limit fixed after the runs', records: [], text: `The smallest gain that matters was fixed on ${dayText(smallestGain.fixedAt)}, when ${which} already. Fix it before the next runs.` }]
}

function setAsideCautions({ cells, withSetAside, quality }: CautionInput): readonly Caution[] {
  if (cells.setAside.length === 0) return []
  const unit = quality.unit === 'degC' ? '°C' : quality.unit
  const other = withSetAside === null ? '' : ` With ${cells.setAside.length === 1 ? 'it' : 'them'} the overall would be ${signed(shown(withSetAside, quality), 2)} ${unit}.`
  return [{ code: 'set-aside', severity: 'notes', title: `${counted(cells.setAside.length, 'run')} set aside`, records: cells.setAside.slice(0, MOST_RECORDS), text: `Set aside by a person, with a reason.${other}` }]
}
