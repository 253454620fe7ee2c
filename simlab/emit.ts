// One simulated lab as the snapshot that a question would freeze, with its truth and with what the best estimator could know.
import type { GainSnapshot } from '@guardband/model'
import { knownVariances } from './known-variances.ts'
import type { Known, ScopeFigures } from './known-variances.ts'
import { realiseLab } from './realise-lab.ts'
import type { RealisedLab } from './realise-lab.ts'
import type { Scenario } from './scenario.ts'
import { sampleCount, samplesOf } from './schedule.ts'

/** Natural logs of the ratio of B to A, higher is better. */
export interface Truth {
  /** Realised: the mean over the very samples of the lab, their own effects included. */
  readonly theseSamples: ScopeFigures<number>
  /** The mean that the samples were drawn from. */
  readonly samplesLikeThese: ScopeFigures<number>
}

export interface SimulatedLab {
  readonly snapshot: GainSnapshot
  readonly truth: Truth
  readonly known: Known
}

/** Lab number `labIndex` of a scenario; equal arguments give equal labs. */
export function simulateLab(scenario: Scenario, labIndex: number): SimulatedLab {
  const lab = realiseLab(scenario, labIndex)
  return { snapshot: snapshotOf(scenario, lab, labIndex), truth: truthOf(scenario, lab), known: knownVariances(scenario, lab) }
}

/** The snapshot alone, where nobody asks for the truth. */
export function simulateSnapshot(scenario: Scenario, labIndex: number): GainSnapshot {
  return snapshotOf(scenario, realiseLab(scenario, labIndex), labIndex)
}

/** Shares of the suite: weights that sum to 1. */
export function suiteShares(weights: readonly number[]): readonly number[] {
  const sum = weights.reduce((total, weight) => total + weight, 0)
  return weights.map((weight) => weight / sum)
}

const FIRST_START = Date.UTC(2026, 10, 2, 7, 0)
const MINUTE = 60_000
const MINUTES_PER_START = 25
const SECONDS_PER_RUN = 55
const COST = { hand: 2, machine: 3, from: 'log' } as const

function truthOf({ design }: Scenario, lab: RealisedLab): Truth {
  const shares = suiteShares(design.workloads.map(({ weight }) => weight))
  const overall = (perWorkload: readonly number[]): ScopeFigures<number> => ({
    overall: perWorkload.reduce((sum, gain, workload) => sum + shares[workload] * gain, 0),
    perWorkload,
  })
  const sideMean = (side: 0 | 1, workload: number): number => mean(samplesOf(design, side).map((sample) => lab.meanOf(sample, side, workload)))
  return {
    theseSamples: overall(design.workloads.map((_, workload) => sideMean(1, workload) - sideMean(0, workload))),
    samplesLikeThese: overall(design.workloads.map(({ gain }) => gain)),
  }
}

function mean(values: readonly number[]): number {
  return values.reduce((sum, value) => sum + value, 0) / values.length
}

function snapshotOf(scenario: Scenario, lab: RealisedLab, labIndex: number): GainSnapshot {
  const { design } = scenario
  const tunes = design.samples === 'same'
  return {
    schema: 1,
    kind: 'gain',
    question: { id: `${scenario.name}/${labIndex}`, title: scenario.why },
    lab: { name: 'Simulated bench', currency: '', simulated: true },
    slot: 'processor',
    sides: tunes
      ? [{ label: 'tune A', tune: 'tune A' }, { label: 'tune B', tune: 'tune B' }]
      : [{ label: 'part A', part: 'part A' }, { label: 'part B', part: 'part B' }],
    samples: Array.from({ length: sampleCount(design) }, (_, index) => ({
      id: `sample-${index + 1}`,
      label: `no. ${index + 1}`,
      part: tunes ? 'part' : samplesOf(design, 0).includes(index) ? 'part A' : 'part B',
      origin: 'retail',
      picked: 'at random',
      status: 'bench',
    })),
    starts: lab.starts.map(({ side, sample }, index) => ({
      id: `start-${index + 1}`,
      side,
      sample,
      rig: 'rig-1',
      partners: { board: 'board no. 1', memory: 'kit no. 1' },
      mount: `mount-${sample + 1}`,
      at: new Date(FIRST_START + index * MINUTES_PER_START * MINUTE).toISOString(),
      order: index,
      how: 'cold',
      training: { result: 'full', tries: 1 },
      conditions: { firmware: 'fw-1', systemImage: 'image-1', drivers: 'drivers-1', powerPlan: 'fixed', cooling: 'cooler no. 1' },
      known: 'read back',
    })),
    workloads: design.workloads.map(({ label, group, measure, unit, direction, weight, resolution }, index) => ({
      id: `workload-${index + 1}`,
      label,
      ...(group === undefined ? {} : { group }),
      measure,
      unit,
      compares: 'ratio',
      direction,
      weight,
      ...(resolution === undefined ? {} : { resolution }),
    })),
    runs: {
      id: lab.runs.map((_, index) => `run-${index + 1}`),
      start: lab.runs.map(({ start }) => start),
      workload: lab.runs.map(({ workload }) => workload),
      order: lab.runs.map(({ order }) => order),
      outcome: lab.runs.map(({ logScore }) => (logScore === null ? 'program died' : 'scored')),
      value: lab.runs.map(({ logScore, workload }) => (logScore === null ? null : printedValue(logScore, design.workloads[workload]))),
      seconds: lab.runs.map(({ share }) => SECONDS_PER_RUN * share),
      setAside: lab.runs.map(() => null),
    },
    failedStarts: [],
    smallestGain: { percent: 1, fixedAt: new Date(FIRST_START - MINUTE).toISOString() },
    costs: { start: COST, tuneChange: COST, sampleChange: COST },
  }
}

/** What the instrument shows: the nearest step, as the decimal number that it prints. */
function printedValue(logScore: number, workload: Scenario['design']['workloads'][number]): number {
  const value = Math.exp(workload.direction === 'higher is better' ? logScore : -logScore)
  if (workload.resolution === undefined) return value
  return Number((Math.round(value / workload.resolution) * workload.resolution).toPrecision(PRINTED_DIGITS))
}

/** Enough to undo the binary error of a product of two decimals, and no more. */
const PRINTED_DIGITS = 12
