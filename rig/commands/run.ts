// `rig run`: carries out a plan from where it stands.
import { existsSync } from 'node:fs'
import { userInfo } from 'node:os'
import { resolve } from 'node:path'
import { counted, fixed } from '@guardband/model'
import { createApprovalCheck, readApprovals } from '../approval-store.ts'
import { planUses } from '../approvals.ts'
import { ceilingsPath, createCeilingCheck, readCeilings, refuseColdWork } from '../ceilings.ts'
import { conditionsOfThisMachine, planConditions } from '../conditions.ts'
import { createFileHasher } from '../file-hash.ts'
import { nodeDisk } from '../journal-disk.ts'
import { firstAnswer, nobody, peopleAtTerminal } from '../people.ts'
import { defaultRigFolder } from '../rig-folder.ts'
import { journalFolderOf, runPlan, type RunEnds, type RunPlanOutcome } from '../run-plan.ts'
import type { LinkOrder } from '../sync/commands.ts'
import { ownPlaces } from '../sync/places.ts'
import type { RigLink } from '../sync/rig-link.ts'
import type { Terminal } from '../terminal.ts'
import { EXIT } from './exit.ts'
import { approvalsFile, baseEnvironment, machineSources, openPlan, refuseRoot } from './plan-file.ts'

export interface RunArgs {
  readonly planFile: string
  readonly folder?: string
  /** Said by the person: run although this is the superuser. */
  readonly asRoot: boolean
  /** unattended: nobody started this by hand; an earlier wish to stop holds, and nobody is asked. */
  readonly attendance?: 'attended' | 'unattended'
  /** alone: it tells no hub and no companion. */
  readonly company?: 'alone'
  readonly signal: AbortSignal
}

/** Carries out the plan from where it stands. Resolves to the exit status. */
export async function run({ planFile, folder, asRoot, attendance = 'attended', company, signal }: RunArgs, terminal: Terminal): Promise<number> {
  refuseRoot(asRoot)
  const { plan, planFolder } = openPlan(planFile)
  const rigFolder = folder === undefined ? defaultRigFolder(planFile, plan) : resolve(folder)
  const check = createApprovalCheck({ store: readApprovals(approvalsFile()), planFolder, base: baseEnvironment(), hash: createFileHasher() })
  const limits = { plan, own: () => readCeilings(ceilingsPath(approvalsFile())) }
  const ceilings = createCeilingCheck(limits)
  // All before the first: a plan that would stop in the night at its third workload doesn't begin.
  for (const tune of plan.tunes) ceilings(tune)
  if (attendance === 'unattended') refuseColdWork(limits)
  for (const { command } of planUses(plan)) check(command)
  terminal.say(`${plan.title}: journals go to ${journalFolderOf(rigFolder)}`)
  const sources = machineSources()
  const linked = company === 'alone' ? null : await linkOf({ plan, rigFolder, journalFolder: journalFolderOf(rigFolder), sources, terminal })
  const { outcome, message, journals, finished, skipped, ends } = await runPlan({
    plan, planFolder, rigFolder, sources, disk: nodeDisk, terminal, approvals: check, ceilings, attendance, signal,
    // A rig beside the machine under test says nothing of it.
    conditions: plan.machine === undefined ? conditionsOfThisMachine(plan.conditions, '/') : planConditions(plan.conditions),
    ...(linked === null ? {} : { link: linked.link, people: attendance === 'unattended' ? nobody : firstAnswer([peopleAtTerminal(terminal, userInfo().username), linked.people]) }),
  })
  if (message !== null) terminal.say(message)
  const notRun = skipped.length === 0 ? '' : `, ${counted(skipped.length, 'run')} not run as the tune was not in force`
  terminal.say(`${outcome}: ${counted(finished.length, 'step')} behind it${notRun}${endsText(ends)}; ${counted(journals.length, 'journal')} written`)
  return EXIT_OF[outcome]
}

/** A rig that is let in nowhere doesn't load what speaks TLS. */
async function linkOf(order: LinkOrder): Promise<RigLink | null> {
  return existsSync(ownPlaces()) ? (await import('../sync/commands.ts')).linkFor(order) : null
}

const EXIT_OF: Readonly<Record<RunPlanOutcome, number>> = {
  finished: EXIT.well,
  'stopped by a person': EXIT.stopped,
  'person needed': EXIT.personNeeded,
  'not approved': EXIT.notApproved,
  'disk full': EXIT.failed,
  'journal failed': EXIT.failed,
  'too many restarts': EXIT.personNeeded,
  'machine silent': EXIT.personNeeded,
}

/** A plan that finished is no plan that went well: what its runs came to is said with it. */
function endsText(ends: readonly RunEnds[]): string {
  const runs = ends.reduce((sum, end) => sum + end.runs, 0)
  return runs === 0 ? '' : `; ${counted(runs, 'run')}: ${ends.map((end) => `${fixed(end.runs, 0)} ${end.outcome}`).join(', ')}`
}
