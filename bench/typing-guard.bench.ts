// The typing guard on simulated tunes: how often it questions a plausible value, how often it catches a slip, and whether its first mend is what was meant.
import type { Asked, Setting, Tune } from '@guardband/model'
import { sameAsked } from '@guardband/model/settings/differences'
import { knownSettings, settingBook, type KnownSetting } from '@guardband/model/settings/setting-book'
import { doubtsOf } from '@guardband/model/settings/typing-guard'
import { namedStream } from '@guardband/simlab'
import type { Bench } from './bench.ts'

const SEED = 7
const TRIALS = 400
/** In percent. A guard that cries wolf more than once in a hundred lines is switched off in the head of whoever types. */
const FALSE_BAR = 1
const CAUGHT_BAR = 95

export const bench: Bench = {
  name: 'typing-guard',
  what: `typing guard: percent of plausible values that it questions wrongly, over ${TRIALS} draws for each kind and number of tunes; slips caught and rightly mended beside it`,
  run: (_args, print) => {
    const totals = { plausible: 0, questioned: 0, slips: 0, hidden: 0, caught: 0, mended: 0 }
    const detail: Record<string, unknown> = {}
    for (const tunes of [1, 3, 12]) {
      const here = { plausible: 0, questioned: 0, slips: 0, hidden: 0, caught: 0, mended: 0 }
      for (const kind of KINDS) {
        const random = namedStream(SEED, `${kind.key} ${tunes}`)
        for (let trial = 0; trial < TRIALS; trial++) {
          const known = knownFrom(kind, Array.from({ length: tunes }, () => draw(kind, 0, random.uniform())))
          const value = draw(kind, BEYOND, random.uniform())
          here.plausible += 1
          if (questions(kind, scalar(value, kind.unit), known)) here.questioned += 1
          if (value === 0) continue
          for (const slip of slipsOf(kind, value)) {
            // A slip that ends at a plausible value (an offset ten times too small) is one that no neighbour can tell.
            if (isPlausible(kind, slip)) {
              here.hidden += 1
              continue
            }
            here.slips += 1
            const doubts = doubtsOf({ setting: settingOf(kind, slip), known })
            const [first] = doubts
            if (first === undefined) continue
            here.caught += 1
            if (first.mends[0] !== undefined && sameAsked(first.mends[0].asked, scalar(value, kind.unit))) here.mended += 1
          }
        }
      }
      for (const key of COUNTS) totals[key] += here[key]
      const told = shares(here)
      detail[`${tunes} other tunes`] = told
      print(`${tunes} other tunes: ${told.questioned.toFixed(2)} % of plausible values questioned, ${told.caught.toFixed(1)} % of slips caught (${told.hidden.toFixed(1)} % more end at a plausible value), ${told.mended.toFixed(1)} % of those with the right mend first`)
    }
    const all = shares(totals)
    return Promise.resolve({
      value: all.questioned,
      reference: FALSE_BAR,
      bar: `at most ${FALSE_BAR} % of plausible values questioned, at least ${CAUGHT_BAR} % of slips caught`,
      pass: all.questioned <= FALSE_BAR && all.caught >= CAUGHT_BAR,
      detail: { ...detail, caught: all.caught, 'slips that end at a plausible value': all.hidden, 'right mend first': all.mended },
    })
  },
}

const COUNTS = ['plausible', 'questioned', 'slips', 'hidden', 'caught', 'mended'] as const

interface Kind {
  readonly key: string
  readonly unit: string
  /** Where tunes of one lab lie. */
  readonly low: number
  readonly high: number
  readonly step: number
  /** Units that are taken for it by mistake. */
  readonly otherUnit?: string
}

/** How far beyond the others' range a plausible new value may lie, as a share of its width at each end: tuning goes further than before. */
const BEYOND = 0.3

const KINDS: readonly Kind[] = [
  { key: 'core voltage', unit: 'V', low: 0.95, high: 1.4, step: 0.005, otherUnit: 'mV' },
  { key: 'memory voltage', unit: 'V', low: 1.1, high: 1.5, step: 0.01, otherUnit: 'mV' },
  { key: 'controller voltage', unit: 'mV', low: 900, high: 1300, step: 5, otherUnit: 'V' },
  { key: 'core voltage offset', unit: 'mV', low: -80, high: -10, step: 5, otherUnit: 'V' },
  { key: 'offset either way', unit: 'mV', low: -60, high: 40, step: 5, otherUnit: 'V' },
  { key: 'core ratio', unit: '', low: 45, high: 60, step: 1 },
  { key: 'ring ratio', unit: '', low: 36, high: 50, step: 1 },
  { key: 'core clock', unit: 'GHz', low: 4.4, high: 5.8, step: 0.025, otherUnit: 'MHz' },
  { key: 'fabric clock', unit: 'MHz', low: 1600, high: 2400, step: 33, otherUnit: 'GHz' },
  { key: 'bus clock', unit: 'MHz', low: 98, high: 104, step: 0.1, otherUnit: 'GHz' },
  { key: 'memory data rate', unit: 'MT/s', low: 4800, high: 8000, step: 200, otherUnit: 'GT/s' },
  { key: 'first word', unit: 'cycles', low: 28, high: 46, step: 2 },
  { key: 'row time', unit: 'cycles', low: 60, high: 120, step: 1 },
  { key: 'refresh time', unit: 'ns', low: 120, high: 350, step: 1, otherUnit: 'us' },
  { key: 'package power limit', unit: 'W', low: 65, high: 160, step: 1, otherUnit: 'mW' },
  { key: 'short power limit', unit: 'W', low: 90, high: 250, step: 1, otherUnit: 'mW' },
  { key: 'current limit', unit: 'A', low: 90, high: 220, step: 5, otherUnit: 'mA' },
  { key: 'load line', unit: 'mOhm', low: 0.4, high: 1.1, step: 0.05, otherUnit: 'Ohm' },
  { key: 'heat limit', unit: 'degC', low: 80, high: 100, step: 1 },
  { key: 'fan speed', unit: 'rpm', low: 700, high: 1900, step: 50 },
  { key: 'fan duty', unit: '%', low: 30, high: 90, step: 5 },
]

function draw({ low, high, step }: Kind, beyond: number, uniform: number): number {
  const width = high - low
  const value = low - beyond * width + uniform * (1 + 2 * beyond) * width
  return Number((Math.round(value / step) * step).toFixed(4))
}

/** Ten times up and down, and the same digits in the neighbouring unit. */
function slipsOf({ unit, otherUnit }: Kind, value: number): readonly Asked[] {
  return [scalar(Number((value * 10).toPrecision(12)), unit), scalar(Number((value / 10).toPrecision(12)), unit), ...(otherUnit === undefined ? [] : [scalar(value, otherUnit)])]
}

function questions(kind: Kind, asked: Asked, known: KnownSetting): boolean {
  return doubtsOf({ setting: settingOf(kind, asked), known }).length > 0
}

function settingOf({ key }: Kind, asked: Asked): Setting {
  return { key, scope: { level: 'machine' }, asked }
}

function knownFrom(kind: Kind, values: readonly number[]): KnownSetting {
  const tunes = values.map((value): Tune => ({ kind: 'tune', id: '0192c2a0-0000-7000-8000-000000000001', name: 'simulated', settings: [settingOf(kind, scalar(value, kind.unit))] }))
  const found = settingBook(knownSettings({ kinds: [], tunes })).find(kind.key)
  if (found === undefined) throw new Error(`${kind.key} must be known after ${values.length} tunes; it is not`)
  return found
}

function scalar(value: number, unit: string): Asked {
  return { shape: 'scalar', value, unit }
}

function isPlausible({ unit, low, high }: Kind, slip: Asked): boolean {
  if (slip.shape !== 'scalar' || slip.unit !== unit) return false
  const beyond = BEYOND * (high - low)
  return slip.value >= low - beyond && slip.value <= high + beyond
}

function shares({ plausible, questioned, slips, hidden, caught, mended }: { readonly [Key in (typeof COUNTS)[number]]: number }): { readonly questioned: number; readonly hidden: number; readonly caught: number; readonly mended: number } {
  return { hidden: (100 * hidden) / (slips + hidden), questioned: (100 * questioned) / plausible, caught: (100 * caught) / slips, mended: (100 * mended) / Math.max(1, caught) }
}
