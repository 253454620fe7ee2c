// `rig status`: how far a plan is.
import { resolve } from 'node:path'
import { counted, fixed, minutesText, planHash } from '@guardband/model'
import { nodeDisk } from '../journal-disk.ts'
import { readJournalFolder } from '../journal-folder.ts'
import { createPlanSource } from '../plan-source.ts'
import { defaultRigFolder } from '../rig-folder.ts'
import { journalFolderOf } from '../run-plan.ts'
import type { Terminal } from '../terminal.ts'
import { minutesLeft } from '../time-left.ts'
import { EXIT } from './exit.ts'
import { openPlan } from './plan-file.ts'

export interface StatusArgs {
  readonly planFile: string
  readonly folder?: string
}

/** Says what is finished, in flight and remaining. */
export async function status({ planFile, folder }: StatusArgs, terminal: Terminal): Promise<number> {
  const { plan } = openPlan(planFile)
  const journalFolder = journalFolderOf(folder === undefined ? defaultRigFolder(planFile, plan) : resolve(folder))
  const source = createPlanSource(plan)
  const reading = await readJournalFolder({ ...nodeDisk, list: async (path) => nodeDisk.list(path).catch(() => []) }, journalFolder, planHash(plan))
  for (const caution of reading.cautions) terminal.say(`caution: ${caution}`)
  const remaining = source.remaining(reading)
  const runs = remaining.filter(({ kind }) => kind === 'run').length
  const minutes = minutesLeft(remaining, reading.finished, [])
  terminal.say(`${plan.title}: ${counted(reading.finished.size, 'step')} finished, ${fixed(remaining.length, 0)} remaining (${counted(runs, 'run')})${minutes === null || remaining.length === 0 ? '' : `, about ${minutesText(minutes)}`}`)
  const outcomes = Map.groupBy([...reading.finished.values()].filter(({ outcome }) => outcome !== null), ({ outcome }) => outcome ?? '')
  for (const [outcome, ends] of outcomes) terminal.say(`  ${outcome}: ${fixed(ends.length, 0)}`)
  for (const { begin } of reading.inFlight) terminal.say(`  in flight since ${begin.at}: ${begin.step} (${begin.workload})`)
  const next = source.next(reading)
  if (next !== null) terminal.say(`  next: ${next.id}`)
  return EXIT.well
}
