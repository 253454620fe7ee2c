// The demo's machines: what a sample at a tune truly scores, how starts and runs scatter about it, and when something gives way.
//
// Log score = core elasticity x log core speed + memory elasticity x log data rate (constant elasticities, as over a narrow range of settings).
// Core speed grows with the cube root of the watts that a workload gets (power goes with frequency x voltage^2 and both rise together), and a
// workload takes no more than its demand: the two limits blend smoothly.
import { namedStream } from '../generator.ts'
import type { Generator } from '../generator.ts'
import { PARTS, WORKLOADS } from './catalogue.ts'
import type { DemoTune, DemoWorkload } from './catalogue.ts'

/** What sits in a rig and how it is set; samples by key. */
export interface Machine {
  readonly processor: string
  readonly kit: string
  readonly tune: DemoTune
}

/** Whose own effects count: those of the very samples, or of none in the slot compared (the mean that they come from). */
export type Population = 'these' | 'processor' | 'memory'

/** Natural log of the true score, higher is better. */
export function trueLogScore(seed: number, machine: Machine, workload: DemoWorkload, population: Population): number {
  const place = WORKLOADS.indexOf(workload)
  const { watts, offset, dataRate } = machine.tune
  const processor = population === 'processor' ? NO_EFFECT : sampleEffect(seed, machine.processor, SPREADS.processor)
  const response = population === 'processor' ? NO_EFFECT : sampleEffect(seed, `${machine.processor} at ${watts} W ${offset} mV`, SPREADS.response)
  const kit = population === 'memory' ? NO_EFFECT : sampleEffect(seed, machine.kit, SPREADS.kit)
  const core = coreOf(machine.processor) + POWER_EXPONENT * (logWatts(watts, workload) - logWatts(REFERENCE_WATTS, workload)) - OFFSET_GAIN * offset
  const level = workload.measure.direction === 'higher is better' ? Math.log(workload.level) : -Math.log(workload.level)
  return (
    level +
    workload.coreElasticity * (core + processor.common + response.common) +
    workload.memoryElasticity * Math.log(dataRate / REFERENCE_RATE) +
    kit.common + processor.own[place] + response.own[place] + kit.own[place]
  )
}

export interface StartEffects {
  /** Per workload, natural log. */
  readonly effect: readonly number[]
}

export function drawStart(stream: Generator, drift: number): StartEffects {
  const common = drift + SPREADS.start.common * stream.normal()
  return { effect: WORKLOADS.map(() => common + SPREADS.start.own * stream.normal()) }
}

export function drawRepeat(stream: Generator): number {
  return SPREADS.repeat * stream.normal()
}

/** What the instrument shows for a log score. */
export function shownValue(logScore: number, workload: DemoWorkload): number {
  const value = Math.exp(workload.measure.direction === 'higher is better' ? logScore : -logScore)
  const step = workload.measure.resolution ?? 1
  return Number((Math.round(value / step) * step).toPrecision(PRINTED_DIGITS))
}

export type Mishap = 'none' | 'machine reset' | 'program died'

/** Resets come under heavy load at much power, more often on samples with little headroom; programs die now and then anywhere. */
export function drawMishap(seed: number, stream: Generator, machine: Machine, workload: DemoWorkload): Mishap {
  const headroom = namedStream(seed, `headroom of ${machine.processor}`).normal()
  const strain = workload.group === 'many cores' && machine.tune.watts > REFERENCE_WATTS ? RESET_CHANCE * Math.exp(-headroom) : 0
  const drawn = stream.uniform()
  if (drawn < strain) return 'machine reset'
  return drawn < strain + DEATH_CHANCE ? 'program died' : 'none'
}

export type Training = 'full' | 'fallback' | 'failed'

/** Memory training succeeds at rates that board and controller take with ease; above them it may fall back or fail. */
export function drawTraining(stream: Generator, tune: DemoTune): Training {
  const drawn = stream.uniform()
  if (tune.dataRate <= EASY_RATE) return 'full'
  if (drawn < FALLBACK_CHANCE) return 'fallback'
  return drawn < FALLBACK_CHANCE + NO_START_CHANCE ? 'failed' : 'full'
}

interface Effect {
  readonly common: number
  readonly own: readonly number[]
}

const NO_EFFECT: Effect = { common: 0, own: WORKLOADS.map(() => 0) }

/** Natural logs, sizes that desktop parts show. */
const SPREADS = {
  processor: { common: 0.006, own: 0.0015 },
  response: { common: 0.0025, own: 0.001 },
  kit: { common: 0.0012, own: 0.0008 },
  start: { common: 0.0022, own: 0.0016 },
  repeat: 0.0025,
} as const

const REFERENCE_WATTS = 95
const REFERENCE_RATE = 6200
const POWER_EXPONENT = 1 / 3
/** Log core speed per millivolt taken off: cooler silicon clocks a little higher under a power limit. */
const OFFSET_GAIN = 0.0001
/** How sharply a power limit sets in; 12 blends over about a tenth of the demand. */
const SHARPNESS = 12
const RESET_CHANCE = 0.006
const DEATH_CHANCE = 0.0025
const EASY_RATE = 6400
const FALLBACK_CHANCE = 0.08
const NO_START_CHANCE = 0.05
const PRINTED_DIGITS = 12

function coreOf(sample: string): number {
  return PARTS.find((part) => part.samples.some(({ key }) => key === sample))?.core ?? 0
}

function logWatts(limit: number, { demand }: DemoWorkload): number {
  return -Math.log(limit ** -SHARPNESS + demand ** -SHARPNESS) / SHARPNESS
}

function sampleEffect(seed: number, name: string, spread: { readonly common: number; readonly own: number }): Effect {
  const stream = namedStream(seed, `effect of ${name}`)
  const common = spread.common * stream.normal()
  return { common, own: WORKLOADS.map(() => spread.own * stream.normal()) }
}
