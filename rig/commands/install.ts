// `rig install` and `rig uninstall`: a plan goes on by itself after a power cut, or no longer does.
import { spawnSync } from 'node:child_process'
import { realpathSync } from 'node:fs'
import { homedir, userInfo } from 'node:os'
import { join, resolve } from 'node:path'
import { fileURLToPath } from 'node:url'
import { SpokenError } from '@guardband/model'
import { approvalsPath, createApprovalCheck, readApprovals } from '../approval-store.ts'
import { planUses } from '../approvals.ts'
import { ceilingsPath, createCeilingCheck, readCeilings, refuseColdWork } from '../ceilings.ts'
import { createFileHasher } from '../file-hash.ts'
import { install as installUnit, ownerOf, scheduledTask, uninstall as uninstallUnit, type InstallOrder, type InstallPlace, type SystemCall } from '../install.ts'
import { defaultRigFolder } from '../rig-folder.ts'
import type { Terminal } from '../terminal.ts'
import { EXIT } from './exit.ts'
import { baseEnvironment, openPlan } from './plan-file.ts'

export interface InstallArgs {
  readonly planFile: string
  readonly folder?: string
  readonly asRoot: boolean
}

/** Refuses a plan that would stop at once: not approved in full by whom it will run as, past a ceiling, cold work. */
export async function install(args: InstallArgs, terminal: Terminal, place: InstallPlace = thisMachine()): Promise<number> {
  const { plan, planFolder } = openPlan(args.planFile)
  const planFile = realpathSync(args.planFile)
  const config = process.env['XDG_CONFIG_HOME']
  const order: InstallOrder = {
    title: plan.title,
    planId: plan.id,
    planFile,
    rigFolder: args.folder === undefined ? defaultRigFolder(planFile, plan) : resolve(args.folder),
    rig: [process.execPath, fileURLToPath(new URL('../main.ts', import.meta.url))],
    asRoot: args.asRoot,
    ...(config === undefined || config === '' || place.user.uid === 0 ? {} : { configFolder: config }),
  }
  if (process.platform === 'win32') {
    for (const line of scheduledTask(order)) terminal.say(line)
    return EXIT.failed
  }
  const owner = ownerOf(order, place)
  const approvals = approvalsPath(owner.uid === place.user.uid ? process.env : {}, join(place.root, owner.home))
  const limits = { plan, own: () => readCeilings(ceilingsPath(approvals)) }
  const ceilings = createCeilingCheck(limits)
  for (const tune of plan.tunes) ceilings(tune)
  refuseColdWork(limits)
  const check = createApprovalCheck({ store: readApprovals(approvals, owner.uid), planFolder, base: baseEnvironment(), hash: createFileHasher() })
  for (const { command } of planUses(plan)) approvedAs(owner.name, args.planFile, () => check(command))
  for (const line of installUnit(order, place)) terminal.say(line)
  terminal.say('Nobody will be there: let it run once by hand with each of its tunes before, and never do cold work so.')
  return EXIT.well
}

export async function uninstall({ planFile }: { readonly planFile: string }, terminal: Terminal, place: InstallPlace = thisMachine()): Promise<number> {
  for (const line of uninstallUnit({ planFile: wholePath(planFile) }, place)) terminal.say(line)
  return EXIT.well
}

export function thisMachine(): InstallPlace {
  return { root: '/', call: callSystem, user: { uid: process.getuid?.() ?? -1, name: userInfo().username, home: homedir() } }
}

const callSystem: SystemCall = (program, args) => {
  const { error, status, stdout, stderr } = spawnSync(program, [...args], { encoding: 'utf8', timeout: CALL_MS })
  return error === undefined || status !== null ? { status: status ?? -1, output: `${stdout}${stderr}` } : null
}

/** systemctl answers at once, or waits for something that won't come. */
const CALL_MS = 30_000

/** A plan file that is gone can still be uninstalled. */
function wholePath(planFile: string): string {
  try {
    return realpathSync(planFile)
  } catch {
    return resolve(planFile)
  }
}

function approvedAs(user: string, planFile: string, check: () => unknown): void {
  try {
    check()
  } catch (cause) {
    if (!(cause instanceof SpokenError) || (cause.code !== 'not-approved' && cause.code !== 'approval-changed')) throw cause
    throw new SpokenError({ code: cause.code, ...(cause.place === undefined ? {} : { place: cause.place }), message: `${cause.message} Nothing was installed.`, mend: `Approve it as ${user}, who will run it: npx guardband rig approve ${planFile}` })
  }
}
