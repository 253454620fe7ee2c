// Gain over 10,000 runs in a worker: every workload, group and overall contrast with its degrees of freedom, in both scopes.
import { answerSchema } from '@guardband/model'
import { manyRuns } from '@guardband/simlab'
import { once } from 'node:events'
import { Worker } from 'node:worker_threads'
import type { Bench } from './bench.ts'
import { median } from './median.ts'

const RUNS = 10_000
const BAR_MS = 100
/** The first computations run before the engine has compiled the code; a pool keeps its workers, so both are told and the median counts. */
const ROUNDS = 25

export const bench: Bench = {
  name: 'gain',
  what: `Gain over ${RUNS.toLocaleString('en')} runs in a worker: milliseconds, median of ${ROUNDS}`,
  async run(_args, print) {
    const snapshot = manyRuns(RUNS)
    const worker = new Worker(new URL('./gain-worker.ts', import.meta.url))
    try {
      const times: number[] = []
      const roundTrips: number[] = []
      let contrasts = 0
      for (let round = 0; round < ROUNDS; round++) {
        const from = performance.now()
        const reply = await ask(worker, snapshot)
        roundTrips.push(performance.now() - from)
        times.push(reply.milliseconds)
        const answer = answerSchema.parse(reply.answer)
        contrasts = answer.estimates.filter((estimate) => estimate.computed?.standardError != null && estimate.computed.df != null).length
      }
      const value = median(times)
      const roundTrip = median(roundTrips)
      print(`${snapshot.runs.id.length} runs, ${snapshot.starts.length} starts, ${contrasts} contrasts with degrees of freedom`)
      print(`computing ${value.toFixed(1)} ms (first ${times[0].toFixed(1)} ms), with the way to the worker and back ${roundTrip.toFixed(1)} ms`)
      return { value, reference: BAR_MS, bar: `computing under ${BAR_MS} ms`, pass: value < BAR_MS && contrasts > 0, detail: { runs: snapshot.runs.id.length, contrasts, first: times[0], roundTrip, slowest: Math.max(...times.slice(1)) } }
    } finally {
      await worker.terminate()
    }
  },
}

interface Reply {
  readonly milliseconds: number
  readonly answer: unknown
}

async function ask(worker: Worker, snapshot: unknown): Promise<Reply> {
  const reply = once(worker, 'message')
  worker.postMessage(snapshot)
  const [message] = await reply
  // The worker beside this file sends nothing else.
  return message as Reply
}
