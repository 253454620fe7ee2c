// Simulates labs of one scenario, has them answered and counts, job by job.
import { parentPort } from 'node:worker_threads'
import { compute } from '@guardband/questions/gain/compute'
import { readScenarios, simulateLab } from '@guardband/simlab'
import type { CoverageJob } from './coverage.bench.ts'
import { countInto, emptyTally } from './coverage-tally.ts'

const scenarios = new Map(readScenarios().map((scenario) => [scenario.name, scenario]))

parentPort?.on('message', (job: CoverageJob) => {
  const scenario = scenarios.get(job.scenario)
  if (scenario === undefined) throw new RangeError(`scenario must be one of the files; got ${job.scenario}`)
  const tally = emptyTally(scenario.design.workloads.length)
  for (let index = job.from; index < job.to; index++) {
    const lab = simulateLab(scenario, index)
    countInto(tally, lab, compute(lab.snapshot))
  }
  parentPort?.postMessage(tally) // oxlint-disable-line unicorn/require-post-message-target-origin -- a worker thread has no origin
})
