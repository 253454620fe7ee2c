// The command driver: an approved program carries the workload out; what a person reads off beside it is asked for once it has ended well.
import { resolve } from 'node:path'
import { COMPARABLE_OUTCOMES, type Command } from '@guardband/model'
import { askMeasures, requirePerson, typedMeasures } from './ask-measures.ts'
import type { Driver, DriverOrder } from './driver.ts'
import { judgeRun, markResultFiles } from './judge-run.ts'
import { execute } from './rig-context.ts'

export function commandWorkload(order: DriverOrder, command: Command): Driver {
  const { context, workload } = order
  return {
    prepare: async () => {
      const folder = resolve(context.planFolder, command.folder ?? '.')
      // Once here, so that a refusal comes before the run begins, and again with the execution.
      context.check(command)
      if (typedMeasures(workload).length > 0) requirePerson(order)
      const before = await markResultFiles(workload, folder)
      return {
        carryOut: async (signal, { onGroup }) => {
          const end = await execute(context, command, signal, onGroup)
          const judged = await judgeRun({ workload, end, folder, before, patterns: context.patterns })
          const caught = { seconds: end.seconds, exitStatus: end.exitStatus, signal: end.signal, output: end.output, errorOutput: end.errorOutput, pictures: [] }
          if (!COMPARABLE_OUTCOMES.has(judged.outcome)) return { ...caught, ...judged }
          return { ...caught, message: null, ...(await askMeasures(order, { outcome: judged.outcome, measures: judged.measures }, signal)) }
        },
      }
    },
  }
}
