// Do 95 % intervals hold what they promise? Every Gain scenario of the simulated bench, judged on its own: coverage, width, false "faster".
import { Worker } from 'node:worker_threads'
import { readScenarios } from '@guardband/simlab'
import type { Scenario } from '@guardband/simlab'
import type { Bench, BenchResult } from './bench.ts'
import { judgeScenario } from './coverage-judge.ts'
import type { Judged } from './coverage-judge.ts'
import { emptyTally, mergeInto } from './coverage-tally.ts'
import type { Tally } from './coverage-tally.ts'
import { tableLines } from './coverage-table.ts'

export const bench: Bench = {
  name: 'coverage',
  what: 'coverage and width of 95 % intervals of Gain, scenario by scenario (--labs 4000, --only NAME)',
  run: async (args, print) => {
    const options = readArguments(args)
    const scenarios = readScenarios().filter((scenario) => options.only === undefined || scenario.name === options.only)
    if (scenarios.length === 0) throw new Error(`--only must name a scenario; got ${options.only}`)
    print(`${options.labs} labs a scenario; a coverage of 95 % then carries a Monte Carlo standard error of ${monteCarloError(options.labs)} points.`)
    const tallies = await tallyAll(scenarios, options)
    const judged = scenarios.map((scenario, index) => judgeScenario(scenario, tallies[index]))
    for (const line of tableLines(judged)) print(line)
    return result(judged, options)
  },
}

export interface CoverageJob {
  readonly scenario: string
  readonly from: number
  readonly to: number
}

interface Options {
  readonly labs: number
  readonly only: string | undefined
  readonly workers: number
}

/** As the bars are stated. */
const DEFAULT_LABS = 4000
const DEFAULT_WORKERS = 2
/** Small enough that both workers end together. */
const LABS_PER_JOB = 250

function readArguments(args: readonly string[]): Options {
  const options = { labs: DEFAULT_LABS, only: undefined as string | undefined, workers: DEFAULT_WORKERS }
  for (let index = 0; index < args.length; index += 2) {
    const [flag, value] = [args[index], args[index + 1]]
    if (flag === '--labs') options.labs = positiveWhole(flag, value)
    else if (flag === '--workers') options.workers = positiveWhole(flag, value)
    else if (flag === '--only' && value !== undefined) options.only = value
    else throw new Error(`arguments must be --labs N, --only NAME or --workers N; got ${flag} ${value ?? ''}`)
  }
  return options
}

function positiveWhole(flag: string, value: string | undefined): number {
  const number = Number(value)
  if (!Number.isInteger(number) || number < 1) throw new Error(`${flag} must be a whole number of at least 1; got ${value ?? 'nothing'}`)
  return number
}

function monteCarloError(labs: number): string {
  const nominal = 0.95
  return (100 * Math.sqrt((nominal * (1 - nominal)) / labs)).toFixed(2)
}

/** Shares the jobs out over workers; each asks for the next job when it has done one. */
async function tallyAll(scenarios: readonly Scenario[], options: Options): Promise<readonly Tally[]> {
  const jobs = scenarios.flatMap((scenario) =>
    Array.from({ length: Math.ceil(options.labs / LABS_PER_JOB) }, (_, part): CoverageJob => {
      const from = part * LABS_PER_JOB
      return { scenario: scenario.name, from, to: Math.min(options.labs, from + LABS_PER_JOB) }
    }),
  )
  const tallies = new Map(scenarios.map((scenario) => [scenario.name, emptyTally(scenario.design.workloads.length)]))
  const waiting = [...jobs]
  await Promise.all(
    Array.from({ length: Math.min(options.workers, jobs.length) }, async () => {
      const worker = new Worker(new URL('./coverage-worker.ts', import.meta.url))
      try {
        for (let job = waiting.shift(); job !== undefined; job = waiting.shift()) {
          const tally = tallies.get(job.scenario)
          if (tally !== undefined) mergeInto(tally, await askWorker(worker, job))
        }
      } finally {
        await worker.terminate()
      }
    }),
  )
  return scenarios.map((scenario) => tallies.get(scenario.name) ?? emptyTally(scenario.design.workloads.length))
}

function askWorker(worker: Worker, job: CoverageJob): Promise<Tally> {
  return new Promise((resolve, reject) => {
    const onMessage = (tally: Tally) => settle(() => resolve(tally))
    const onError = (error: unknown) => settle(() => reject(error instanceof Error ? error : new Error(String(error))))
    const onExit = (code: number) => onError(new Error(`worker must answer; got exit ${code} in ${job.scenario}`))
    const settle = (act: () => void) => {
      worker.off('message', onMessage).off('error', onError).off('exit', onExit)
      act()
    }
    worker.on('message', onMessage).on('error', onError).on('exit', onExit)
    worker.postMessage(job) // oxlint-disable-line unicorn/require-post-message-target-origin -- a worker thread has no origin
  })
}

function result(judged: readonly Judged[], options: Options): BenchResult {
  const figures = judged.flatMap((each) => each.figures)
  const misses = judged.flatMap((each) => each.misses.map((miss) => `${each.scenario}: ${miss}`))
  return {
    value: misses.length,
    reference: figures.length,
    bar: 'no figure of any scenario misses its bar (value: bars missed, reference: figures judged)',
    pass: misses.length === 0,
    detail: { labs: options.labs, misses, scenarios: judged.map(({ scenario, figures, mustSay }) => ({ scenario, mustSay, figures })) },
  }
}
