// What would settle it: how many further starts (or samples) bring the interval to one side of the smallest gain that matters, and the minutes they cost.
import { normalQuantile, tQuantile, welchSatterthwaite } from '@guardband/engine'
import { counted, minutesText, type GainSnapshot, type Settle } from '@guardband/model'
import type { Cells } from './cells.ts'
import type { ScopedContrast } from './contrast.ts'
import { median } from './cells.ts'
import type { Selection } from './selection.ts'

export interface SettleInput {
  readonly snapshot: GainSnapshot
  readonly cells: Cells
  readonly selection: Selection
  readonly contrast: ScopedContrast
  readonly threshold: number
  readonly scope: 'these samples' | 'samples like these'
}

/** Beyond this nobody would go on; the answer says so instead. */
const MOST_STARTS = 60
const MOST_SAMPLES = 60
/** Used for a run whose length nobody recorded; a house default. */
const DEFAULT_RUN_SECONDS = 120
const SECONDS_PER_MINUTE = 60

/** Plan for an open or unclear verdict. The estimate is taken as it stands, so the figure is a middle guess: half of the time more will be needed. */
export function settle(input: SettleInput): Settle | null {
  const { contrast, scope } = input
  const current = scope === 'these samples' ? contrast.theseSamples : contrast.samplesLikeThese
  if (current.why === 'one start a side') return moreStarts(input, 1, 'One more start a side gives an interval')
  const wanted = Math.abs(Math.abs(current.estimate) - input.threshold)
  return scope === 'these samples' ? settleByStarts(input, wanted) : settleBySamples(input, wanted)
}

/** Another start of the side that came first, after the other one: drift and gain come apart. */
export function settleOrder(input: SettleInput): Settle {
  return moreStarts(input, 1, 'Run the sides in turns: one more start a side in the opposite order tells drift from gain')
}

function settleByStarts(input: SettleInput, wanted: number): Settle | null {
  const { contrast, selection } = input
  const [a, b] = contrast.startVariance
  if (a === null || b === null) return moreStarts(input, 1, 'One more start a side gives an interval')
  const samples = selection.samples.map((list) => list.length)
  // Starts of the same samples round alike: more of them leave this as it is.
  const rounded = normalQuantile(0.975) * Math.sqrt(contrast.rounding * (1 / samples[0] + 1 / samples[1]))
  const never = (): Settle => outOfReach({ input, wanted, effort: `${MOST_STARTS} more starts a side`, what: 'starts' })
  if (rounded > wanted) return rounded > input.threshold / 2 ? TOO_COARSE : never()
  for (let extra = 1; extra <= MOST_STARTS; extra++) {
    const terms = [a, b].map((variance, side) => {
      const perSample = contrast.starts[side] / samples[side] + extra
      return { variance: variance / (perSample * samples[side]), df: samples[side] * (perSample - 1) }
    })
    const { variance, df } = welchSatterthwaite(terms)
    if (tQuantile(0.975, df) * Math.sqrt(variance) <= wanted) return moreStarts(input, extra, `About ${counted(extra, 'more start')} a sample and side would settle it`)
  }
  return never()
}

function settleBySamples(input: SettleInput, wanted: number): Settle | null {
  const { contrast, selection, snapshot } = input
  const spread = contrast.sampleVariance
  if (spread === null) return null
  const [a, b] = selection.samples.map((list) => list.length)
  for (let extra = 1; extra <= MOST_SAMPLES; extra++) {
    const same = selection.pairing === 'same'
    const variance = same ? spread / (a + extra) : spread * (1 / (a + extra) + 1 / (b + extra))
    const df = same ? a + extra - 1 : a + b + 2 * extra - 2
    const rounded = contrast.rounding * (1 / (a + extra) + 1 / (b + extra))
    if (tQuantile(0.975, df) * Math.sqrt(Math.max(rounded, variance)) > wanted) continue
    const starts = Math.max(1, Math.round((contrast.starts[0] + contrast.starts[1]) / (a + b)))
    const perStart = startMinutes(input)
    const units = same ? extra : extra * 2
    const startCount = extra * 2 * starts
    const hand = units * snapshot.costs.sampleChange.hand + startCount * startCost(input).hand + (same ? startCount * snapshot.costs.tuneChange.hand : 0)
    const machine = units * snapshot.costs.sampleChange.machine + startCount * perStart.machine + (same ? startCount * snapshot.costs.tuneChange.machine : 0)
    return priced(`About ${counted(extra, 'more sample')}${same ? '' : ' a side'} would settle it`, [{ what: 'sample', count: units, hand, machine }], startCount * perStart.runs)
  }
  return outOfReach({ input, wanted, effort: `${MOST_SAMPLES} more samples${selection.pairing === 'same' ? '' : ' a side'}`, what: 'samples' })
}

function moreStarts(input: SettleInput, extra: number, sentence: string): Settle {
  const { snapshot, selection } = input
  const perStart = startMinutes(input)
  const count = extra * (selection.samples[0].length + selection.samples[1].length)
  // Between two starts of one sample the tune changes; with different samples a side the sample is swapped.
  const change = selection.pairing === 'same' ? snapshot.costs.tuneChange : snapshot.costs.sampleChange
  const swaps = selection.pairing === 'same' && selection.samples[0].length > 1 ? selection.samples[0].length : 0
  const hand = count * (startCost(input).hand + change.hand) + swaps * snapshot.costs.sampleChange.hand
  const machine = count * (perStart.machine + change.machine) + swaps * snapshot.costs.sampleChange.machine
  return priced(sentence, [{ what: 'start', count, hand, machine }], count * perStart.runs)
}

function priced(sentence: string, items: Settle['items'], runs: number): Settle {
  const hand = items.reduce((sum, item) => sum + item.hand, 0)
  const machine = items.reduce((sum, item) => sum + item.machine, 0)
  if (hand > MOST_MINUTES || machine > MOST_MINUTES) return hopeless('At these costs, settling it would take more than a year of bench time.')
  const parts = hand === 0 ? `${minutesText(machine)} of machine time, no hands` : `${minutesText(hand)} of hands, ${minutesText(machine)} of machine time`
  return { sentence: `${sentence}: ${counted(runs, 'run')}, ${parts}.`, items, hand, machine, runs }
}

/** A year, and what a plan can hold. */
const MOST_MINUTES = 525_600

interface OutOfReach {
  readonly input: SettleInput
  /** From the estimate to the smallest gain that matters. */
  readonly wanted: number
  readonly effort: string
  readonly what: 'starts' | 'samples'
}

/** Either the gain is near the edge of the band, or it is far off and what was measured scatters too much: two faults with two mends. */
function outOfReach({ input, wanted, effort, what }: OutOfReach): Settle {
  if (wanted <= input.threshold) return hopeless(`The gain sits so close to the smallest that matters that even ${effort} would hardly settle it.`)
  return hopeless(`The ${what} scatter so widely that even ${effort} would hardly settle it. Find out what makes them differ first.`)
}

function hopeless(sentence: string): Settle {
  return { sentence, items: [], hand: 0, machine: 0, runs: 0 }
}

/** Where most starts so far were live changes, so will the further ones be: they need no power-on. */
function startCost({ snapshot }: SettleInput): { readonly hand: number; readonly machine: number } {
  return snapshot.starts.filter((start) => start.how === 'live').length * 2 > snapshot.starts.length ? NO_POWER_ON : snapshot.costs.start
}

const NO_POWER_ON = { hand: 0, machine: 0 }

const TOO_COARSE = hopeless('The instrument’s step is too coarse to settle it with more starts: read it finer, or make each run longer.')

/** Machine-minutes of one start with all its runs, from the seconds recorded. */
function startMinutes(input: SettleInput): { readonly machine: number; readonly runs: number } {
  const { cells, selection } = input
  let seconds = 0
  let runs = 0
  for (const workload of selection.columns) {
    const counts: number[] = []
    for (let start = 0; start < cells.startCount; start++) {
      const count = cells.count[start * cells.workloadCount + workload]
      if (count > 0) counts.push(count)
    }
    const repeats = counts.length === 0 ? 1 : Math.round(median(counts))
    runs += repeats
    seconds += repeats * (cells.seconds[workload] ?? DEFAULT_RUN_SECONDS)
  }
  return { machine: startCost(input).machine + seconds / SECONDS_PER_MINUTE, runs }
}
