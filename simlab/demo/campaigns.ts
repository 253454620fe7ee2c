// The demo's week on two rigs: which samples at which tunes, in which order, and the questions that the runs are for.
import { TUNES } from './catalogue.ts'
import type { DemoTune } from './catalogue.ts'

export type RigKey = 'north bench' | 'south bench'

/** Samples that sit in a rig for some starts, one tune a start. */
export interface Visit {
  readonly processor: string
  readonly kit: string
  readonly tunes: readonly DemoTune[]
}

export interface DemoCampaign {
  readonly name: string
  readonly rig: RigKey
  /** Day of November 2026 on which it begins. */
  readonly day: number
  readonly visits: readonly Visit[]
  /** Change of the log scores from its first start to its last. */
  readonly drift: number
  readonly questions: readonly string[]
  readonly budgetHours: number
  readonly note?: string
}

export interface DemoSide {
  readonly label: string
  readonly part: string
  readonly tune: string
  readonly processors: readonly string[]
  readonly kits: readonly string[]
}

export interface DemoQuestion {
  readonly key: string
  readonly title: string
  readonly slot: 'processor' | 'memory'
  readonly a: DemoSide
  readonly b: DemoSide
  readonly smallestPercent: number
  readonly money?: { readonly extraPrice: number; readonly worthOfOnePercent: number; readonly partPrice: number; readonly machinePrice: number }
}

export function demoTune(key: string): DemoTune {
  const found = TUNES.find((tune) => tune.key === key)
  if (found === undefined) throw new RangeError(`tune must be one of the demo's; got ${key}`)
  return found
}

/** A price of one workstation with a Quillon 14 and a Marram 6200. */
const MACHINE_PRICE = 1890
const WORTH = 30
const NORTH_KIT = 'M62-01'
const SOUTH_KIT = 'M62-02'
const numbered = (prefix: string, numbers: readonly number[]): readonly string[] => numbers.map((number) => `${prefix}-0${number}`)

const POWER_SAMPLES = numbered('R14', [4, 5, 6])
const DRIFT_SAMPLES = numbered('Q14', [4, 5])
const FIRST_LOOK_SAMPLES = numbered('Q14', [6, 7])

export const CAMPAIGNS: readonly DemoCampaign[] = [
  {
    name: 'Which processor', rig: 'north bench', day: 2, drift: 0.0015, questions: ['parts'], budgetHours: 16,
    visits: thereAndBack(['Q14-01', 'R14-01', 'R14-02', 'Q14-02', 'Q14-03', 'R14-03']).map((processor) => ({ processor, kit: NORTH_KIT, tunes: times(2, 'W95') })),
  },
  {
    name: 'Package power', rig: 'south bench', day: 2, drift: -0.002, questions: ['95-65', '120-95'], budgetHours: 24,
    visits: POWER_SAMPLES.map((processor) => ({ processor, kit: SOUTH_KIT, tunes: [0, 1].flatMap(() => thereAndBack(['W65', 'W80', 'W95', 'W120']).map(demoTune)) })),
  },
  {
    name: 'Which memory', rig: 'north bench', day: 4, drift: 0.001, questions: ['6800-5600', '6200-5600'], budgetHours: 14,
    visits: thereAndBack(['M56-01', 'M68-01', 'M68-02', 'M56-02', 'M56-03', 'M68-03'])
      .map((kit) => memoryVisit(kit))
      .toSpliced(3, 0, memoryVisit('M62-03'), memoryVisit('M62-04')),
  },
  {
    name: 'Cores 40 mV down', rig: 'south bench', day: 5, drift: -0.028, questions: ['offset'], budgetHours: 8,
    note: 'The cooler was found loose on one side after the last start.',
    visits: ['W95', 'V40'].flatMap((tune) => DRIFT_SAMPLES.map((processor) => ({ processor, kit: SOUTH_KIT, tunes: times(4, tune) }))),
  },
  {
    name: 'First look at 80 W', rig: 'south bench', day: 6, drift: 0, questions: ['first-look'], budgetHours: 3,
    visits: [
      { processor: 'Q14-06', kit: SOUTH_KIT, tunes: [demoTune('W95'), demoTune('W80')] },
      { processor: 'Q14-07', kit: SOUTH_KIT, tunes: [demoTune('W80'), demoTune('W95')] },
    ],
  },
]

export const QUESTIONS: readonly DemoQuestion[] = [
  {
    key: 'parts', title: 'Is the Quillon 14R worth its price?', slot: 'processor', smallestPercent: 1,
    a: { label: 'Quillon 14', part: 'Q14', tune: 'W95', processors: numbered('Q14', [1, 2, 3]), kits: [NORTH_KIT] },
    b: { label: 'Quillon 14R', part: 'Q14R', tune: 'W95', processors: numbered('R14', [1, 2, 3]), kits: [NORTH_KIT] },
    money: { extraPrice: 74, worthOfOnePercent: WORTH, partPrice: 329, machinePrice: MACHINE_PRICE },
  },
  {
    key: '95-65', title: 'What does 95 W bring over 65 W?', slot: 'processor', smallestPercent: 0.5,
    a: { label: '65 W', part: 'Q14R', tune: 'W65', processors: POWER_SAMPLES, kits: [SOUTH_KIT] },
    b: { label: '95 W', part: 'Q14R', tune: 'W95', processors: POWER_SAMPLES, kits: [SOUTH_KIT] },
  },
  {
    key: '120-95', title: 'Does 120 W still bring anything?', slot: 'processor', smallestPercent: 0.5,
    a: { label: '95 W', part: 'Q14R', tune: 'W95', processors: POWER_SAMPLES, kits: [SOUTH_KIT] },
    b: { label: '120 W', part: 'Q14R', tune: 'W120', processors: POWER_SAMPLES, kits: [SOUTH_KIT] },
  },
  {
    key: '6800-5600', title: 'Marram 6800 against 5600', slot: 'memory', smallestPercent: 1,
    a: { label: 'Marram 5600', part: 'M56', tune: 'M5600', processors: ['Q14-01'], kits: numbered('M56', [1, 2, 3]) },
    b: { label: 'Marram 6800', part: 'M68', tune: 'M6800', processors: ['Q14-01'], kits: numbered('M68', [1, 2, 3]) },
    money: { extraPrice: 62, worthOfOnePercent: WORTH, partPrice: 118, machinePrice: MACHINE_PRICE - 23 },
  },
  {
    key: '6200-5600', title: 'Marram 6200 against 5600, few starts', slot: 'memory', smallestPercent: 1,
    a: { label: 'Marram 5600', part: 'M56', tune: 'M5600', processors: ['Q14-01'], kits: numbered('M56', [1, 2, 3]) },
    b: { label: 'Marram 6200', part: 'M62', tune: 'M6200', processors: ['Q14-01'], kits: numbered('M62', [3, 4]) },
    money: { extraPrice: 23, worthOfOnePercent: WORTH, partPrice: 118, machinePrice: MACHINE_PRICE - 23 },
  },
  {
    key: 'offset', title: 'Do cores 40 mV down run faster?', slot: 'processor', smallestPercent: 0.5,
    a: { label: '95 W', part: 'Q14', tune: 'W95', processors: DRIFT_SAMPLES, kits: [SOUTH_KIT] },
    b: { label: 'cores 40 mV down', part: 'Q14', tune: 'V40', processors: DRIFT_SAMPLES, kits: [SOUTH_KIT] },
  },
  {
    key: 'first-look', title: 'First look: 80 W against 95 W', slot: 'processor', smallestPercent: 0.5,
    a: { label: '95 W', part: 'Q14', tune: 'W95', processors: FIRST_LOOK_SAMPLES, kits: [SOUTH_KIT] },
    b: { label: '80 W', part: 'Q14', tune: 'W80', processors: FIRST_LOOK_SAMPLES, kits: [SOUTH_KIT] },
  },
]

function thereAndBack(items: readonly string[]): readonly string[] {
  return [...items, ...items.toReversed()]
}

function times(count: number, tune: string): readonly DemoTune[] {
  return Array.from({ length: count }, () => demoTune(tune))
}

function memoryVisit(kit: string): Visit {
  const tune = { M56: 'M5600', M62: 'M6200', M68: 'M6800' }[kit.slice(0, 3)] ?? ''
  return { processor: 'Q14-01', kit, tunes: times(2, tune) }
}
