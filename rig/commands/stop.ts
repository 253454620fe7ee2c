// `rig stop`: asks a rig to stop, at once where it works, and for good where it starts by itself.
import { resolve } from 'node:path'
import { defaultRigFolder } from '../rig-folder.ts'
import { askToStop } from '../stop-request.ts'
import type { Terminal } from '../terminal.ts'
import { EXIT } from './exit.ts'
import { openPlan } from './plan-file.ts'

export interface StopArgs {
  readonly planFile: string
  readonly folder?: string
}

export async function stop({ planFile, folder }: StopArgs, terminal: Terminal): Promise<number> {
  const { plan } = openPlan(planFile)
  const rigFolder = folder === undefined ? defaultRigFolder(planFile, plan) : resolve(folder)
  askToStop(rigFolder)
  terminal.say(`${plan.title}: a rig at work here stops before its next step, and none goes on by itself. npx guardband rig run ${planFile} takes this wish back and goes on.`)
  return EXIT.well
}
