// Draws one lab of a scenario: every sample's and start's true effects, the holes in the table, and each run's log score before rounding.
import { namedStream } from './generator.ts'
import type { Generator } from './generator.ts'
import type { Scenario } from './scenario.ts'
import { sampleCount, scheduleStarts } from './schedule.ts'
import type { ScheduledStart } from './schedule.ts'

export interface RealisedRun {
  readonly start: number
  readonly workload: number
  readonly order: number
  /** Natural log of the score relative to nothing but 1, higher is better; null where the program died. */
  readonly logScore: number | null
  /** How far it got: 1 where it finished. */
  readonly share: number
}

export interface RealisedLab {
  readonly starts: readonly ScheduledStart[]
  /** Log level of each workload in this lab, higher is better. */
  readonly levels: readonly number[]
  readonly runs: readonly RealisedRun[]
  /** True log score of a sample on a side for a workload, without start, drift and repeat. */
  readonly meanOf: (sample: number, side: number, workload: number) => number
}

/** Equal scenario and index give an equal lab; no lab depends on another. */
export function realiseLab(scenario: Scenario, labIndex: number): RealisedLab {
  const { design, spreads } = scenario
  const stream = (purpose: string): Generator => namedStream(scenario.seed, `${scenario.name}/${labIndex}/${purpose}`)
  const starts = scheduleStarts(design)
  const workloads = design.workloads

  const levelStream = stream('levels')
  const levels = workloads.map(({ level, direction }) => {
    const drawn = Math.log(level) + LEVEL_RANGE * (2 * levelStream.uniform() - 1)
    return direction === 'higher is better' ? drawn : -drawn
  })

  const sampleStream = stream('samples')
  const sampleEffects = Array.from({ length: sampleCount(design) }, () => ({
    common: effects(sampleStream, workloads.length, spreads.sample, spreads.sampleWorkload),
    onSide: [0, 1].map(() => effects(sampleStream, workloads.length, spreads.sampleSide, spreads.sampleSideWorkload)),
  }))
  const meanOf = (sample: number, side: number, workload: number): number =>
    levels[workload] + side * workloads[workload].gain + sampleEffects[sample].common[workload] + sampleEffects[sample].onSide[side][workload]

  const startStream = stream('starts')
  const draw = scenario.tails === 'normal' ? startStream.normal : scaledT(startStream, scenario.tails.studentDf)
  const startEffects = starts.map(({ side }, index) => {
    const factor = side === 1 ? spreads.startFactorB : 1
    const drifted = starts.length > 1 ? scenario.drift * (index / (starts.length - 1) - 1 / 2) : 0
    const common = drifted + factor * spreads.start * draw()
    return workloads.map(() => common + factor * spreads.startWorkload * draw())
  })

  const present = presentCells(scenario, starts, stream('missing'))
  const repeatStream = stream('repeats')
  const failStream = stream('failed')
  const runs: RealisedRun[] = []
  starts.forEach(({ side, sample }, start) => {
    let order = 0
    for (let repeat = 0; repeat < design.repeats; repeat++) {
      workloads.forEach((_, workload) => {
        if (!present[start][workload]) return
        const logScore = meanOf(sample, side, workload) + startEffects[start][workload] + spreads.repeat * repeatStream.normal()
        const died = failStream.uniform() < scenario.failed
        runs.push({ start, workload, order, logScore: died ? null : logScore, share: died ? failStream.uniform() : 1 })
        order += 1
      })
    }
  })
  return { starts, levels, runs, meanOf }
}

/** Levels vary by 5 % from lab to lab, many steps of any instrument here. */
const LEVEL_RANGE = 0.05

function effects(stream: Generator, count: number, commonSpread: number, ownSpread: number): readonly number[] {
  const common = commonSpread * stream.normal()
  return Array.from({ length: count }, () => common + ownSpread * stream.normal())
}

/** The variance of Student t is df / (df - 2). */
function scaledT(stream: Generator, df: number): () => number {
  const scale = Math.sqrt((df - 2) / df)
  return () => scale * stream.studentT(df)
}

/** Which start x workload cells were run. A workload that a sample would never have run on a side is drawn again, so that these samples have a truth to find. */
function presentCells(scenario: Scenario, starts: readonly ScheduledStart[], stream: Generator): readonly (readonly boolean[])[] {
  const present = starts.map(() => scenario.design.workloads.map(() => true))
  if (scenario.missing === 0) return present
  const groups = Map.groupBy(
    starts.map((_, index) => index),
    (index) => `${starts[index].sample}/${starts[index].side}`,
  )
  for (const members of groups.values()) {
    scenario.design.workloads.forEach((_, workload) => {
      do for (const start of members) present[start][workload] = stream.uniform() >= scenario.missing
      while (!members.some((start) => present[start][workload]))
    })
  }
  return present
}
