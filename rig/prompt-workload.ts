// The prompt driver: a person carries the workload out as its text says, tells how it ended, and types what it came to.
import type { Outcome, PlanWorkload } from '@guardband/model'
import { askMeasures, askedUntil, requirePerson, stoppedBy } from './ask-measures.ts'
import { NOTHING_MORE, type Driver, type DriverOrder } from './driver.ts'
import { markResultFiles, readMeasures } from './judge-run.ts'

/** What a person can have seen of a run that did not end well. */
export const SEEN_FAILURES = ['errors', 'wrong result', 'program died', 'hung', 'machine reset', 'protection trip', 'device lost', 'throttled'] as const satisfies readonly Outcome[]

export function promptWorkload(order: DriverOrder, { text }: NonNullable<PlanWorkload['prompt']>): Driver {
  const { context, workload, step } = order
  const well = workload.measures.length === 0 ? 'passed' : 'scored'
  return {
    prepare: async () => {
      requirePerson(order)
      const before = await markResultFiles(workload, context.planFolder)
      return {
        carryOut: async (signal) => {
          const { monotonic } = context.sources
          const begun = monotonic()
          // Asked of a measured one too: a crash is a result, and nobody could type it as a figure.
          const asked = await askedUntil(() => context.ask({ kind: 'choice', step, text: `${text}\nHow did it end?`, words: [well, ...SEEN_FAILURES], picture: true }, signal), signal)
          const end = { ...NOTHING_MORE, seconds: Math.max(0, monotonic() - begun) }
          if (asked.kind === 'stopped') return { ...end, ...stoppedBy(asked) }
          const { answer, picture } = asked.said
          const seen = { ...end, pictures: picture === undefined ? [] : [picture] }
          const failure = SEEN_FAILURES.find((word) => word === answer)
          if (failure !== undefined) return { ...seen, outcome: failure }
          const read = await readMeasures({ workload, end: null, folder: context.planFolder, before, patterns: context.patterns })
          // What a person typed is kept whatever a file lacks.
          return { ...seen, message: read.message, ...(await askMeasures(order, { outcome: read.outcome, measures: read.measures }, signal)) }
        },
      }
    },
  }
}
