// What a person can tell a rig: approve a plan's commands, run it, ask how far it is.
import { existsSync, readFileSync, statSync } from 'node:fs'
import { homedir, uptime, userInfo } from 'node:os'
import { dirname, resolve } from 'node:path'
import { setTimeout } from 'node:timers/promises'
import { SpokenError, counted, createIdFactory, fixed, minutesText, planHash, type Plan } from '@guardband/model'
import { addApproval, approvalOf, approvalsPath, createApprovalCheck, readApprovals } from './approval-store.ts'
import { approvalCode, listCommands, planUses, readsWithoutCommand, shownCode, typedCode, type BaseEnvironment, type FileRead, type ListedCommand } from './approvals.ts'
import { readBootId } from './boot-id.ts'
import { createFileHasher } from './file-hash.ts'
import { nodeDisk } from './journal-disk.ts'
import { readJournalFolder } from './journal-folder.ts'
import { plainText, plainWord } from './plain-text.ts'
import { createPlanSource } from './plan-source.ts'
import { readPlan } from './read-plan.ts'
import type { RigSources } from './rig-context.ts'
import { defaultRigFolder } from './rig-folder.ts'
import { journalFolderOf, runPlan, type RunEnds, type RunPlanOutcome } from './run-plan.ts'
import type { Terminal } from './terminal.ts'
import { minutesLeft } from './time-left.ts'

export interface ApproveArgs {
  readonly planFile: string
  /** The code that a listing showed. */
  readonly code?: string
}

export interface RunArgs {
  readonly planFile: string
  readonly folder?: string
  /** Said by the person: run although this is the superuser. */
  readonly asRoot: boolean
  readonly signal: AbortSignal
}

export interface StatusArgs {
  readonly planFile: string
  readonly folder?: string
}

/** Exit statuses of the commands; errors that are thrown end with 1. */
export const EXIT = { well: 0, failed: 1, notApproved: 3, personNeeded: 4, stopped: 130 } as const

/** Shows everything that the plan can run; approves it when the code is repeated. Resolves to the exit status. */
export async function approve({ planFile, code }: ApproveArgs, terminal: Terminal, signal: AbortSignal = new AbortController().signal): Promise<number> {
  const { plan, planFolder } = openPlan(planFile)
  const commands = listCommands(plan, planFolder, baseEnvironment())
  const expected = approvalCode(commands)
  for (const line of describeCommands(commands)) terminal.say(line)
  for (const line of describeReads(readsWithoutCommand(plan, planFolder))) terminal.say(line)
  terminal.say(`${counted(commands.length, 'command')} in all; code ${shownCode(expected)}`)
  const given = code ?? (terminal.interactive ? await terminal.ask('Type the code to let this plan run them on this machine:', signal) : undefined)
  if (given === undefined) {
    terminal.say(`Nothing is approved yet. When all of this may run here: npx guardband rig approve ${planFile} --code ${shownCode(expected)}`)
    return EXIT.notApproved
  }
  if (typedCode(given) !== expected) {
    throw new SpokenError({ code: 'approval-code', place: planFile, message: `the code must be ${shownCode(expected)}, as just listed; got ${given.trim() || 'nothing'}.`, mend: 'Something changed since that code was shown, or it was mistyped: look through the list and repeat its code.' })
  }
  addApproval(approvalsFile(), approvalOf(commands, { at: new Date().toISOString(), plan: plan.id, code: expected }), machineSources().newId)
  terminal.say(`Approved on this machine. Run it with: npx guardband rig run ${planFile}`)
  return EXIT.well
}

/** Carries out the plan from where it stands. Resolves to the exit status. */
export async function run({ planFile, folder, asRoot, signal }: RunArgs, terminal: Terminal): Promise<number> {
  refuseRoot(asRoot)
  const { plan, planFolder } = openPlan(planFile)
  const rigFolder = folder === undefined ? defaultRigFolder(planFile, plan) : resolve(folder)
  const check = createApprovalCheck({ store: readApprovals(approvalsFile()), planFolder, base: baseEnvironment(), hash: createFileHasher() })
  // All before the first: a plan that would stop in the night at its third workload doesn't begin.
  for (const { command } of planUses(plan)) check(command)
  terminal.say(`${plan.title}: journals go to ${journalFolderOf(rigFolder)}`)
  const { outcome, message, journals, finished, skipped, ends } = await runPlan({ plan, planFolder, rigFolder, sources: machineSources(), disk: nodeDisk, terminal, approvals: check, signal })
  if (message !== null) terminal.say(message)
  const notRun = skipped.length === 0 ? '' : `, ${counted(skipped.length, 'run')} not run as the tune was not in force`
  terminal.say(`${outcome}: ${counted(finished.length, 'step')} behind it${notRun}${endsText(ends)}; ${counted(journals.length, 'journal')} written`)
  return EXIT_OF[outcome]
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

/** The machine's own clock, ids and boot. */
export function machineSources(): RigSources {
  return {
    now: wallClock,
    monotonic: () => performance.now() / 1000,
    newId: createIdFactory({ now: wallClock, fillRandom: (bytes) => void crypto.getRandomValues(bytes) }),
    bootId: readBootId(wallClock),
    uptime,
    sleep: (milliseconds, signal) => setTimeout(milliseconds, undefined, { signal }),
  }
}

function wallClock(): number {
  return Date.now()
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

function openPlan(planFile: string): { readonly plan: Plan; readonly planFolder: string } {
  let text: string
  try {
    text = readFileSync(planFile, 'utf8')
  } catch (cause) {
    throw new SpokenError({ code: 'plan-unreadable', place: planFile, message: `${unreadable(cause)}.`, mend: 'Name the plan file as it is from this folder.' })
  }
  return { plan: readPlan(text, planFile), planFolder: dirname(resolve(planFile)) }
}

function unreadable(cause: unknown): string {
  const code = cause instanceof Error && 'code' in cause ? cause.code : undefined
  if (code === 'ENOENT' || code === 'ENOTDIR') return 'there is no such file'
  if (code === 'EISDIR') return 'this is a folder; a plan is a file'
  return `this plan can't be read (${cause instanceof Error ? cause.message : String(cause)})`
}

function approvalsFile(): string {
  return approvalsPath(process.env, homedir())
}

function baseEnvironment(): BaseEnvironment {
  return { PATH: process.env['PATH'] ?? '', HOME: homedir() }
}

function refuseRoot(asRoot: boolean): void {
  if (asRoot || process.getuid?.() !== 0) return
  throw new SpokenError({
    code: 'as-root',
    place: userInfo().username,
    message: 'a plan runs with the least rights that it needs: as root a mistake in one of its commands can harm the whole machine.',
    mend: 'Run it as an ordinary user; where the tune itself needs root, say so with --as-root.',
  })
}

/** What all commands share is said once, at the end; a long list that repeats itself isn't read. */
function describeCommands(commands: readonly ListedCommand[]): readonly string[] {
  const described = commands.map((listed) => ({ listed, about: aboutCommand(listed) }))
  const shared = commands.length < 2 ? [] : described[0].about.filter((line) => described.every(({ about }) => about.includes(line)))
  return [
    ...described.flatMap(({ listed: { uses, pinned }, about }) => [
      pinned.run.map(plainWord).join(' '),
      ...uses.map((use) => `    ${plainText(use)}`),
      ...about.filter((line) => !shared.includes(line)),
      '',
    ]),
    ...(shared.length === 0 ? [] : ['all of them', ...shared, '']),
  ]
}

function describeReads(reads: readonly FileRead[]): readonly string[] {
  if (reads.length === 0) return []
  return ['read with no command run', ...reads.map(({ use, path }) => `    reads        ${plainText(path)}: ${plainText(use)}`), '']
}

function aboutCommand({ reads, pinned: { run, program, files, mayChange, folder, environment } }: ListedCommand): readonly string[] {
  return [
    `    program      ${plainText(program.path)}  sha256 ${program.sha256}`,
    ...files.map(({ path, sha256 }) => `    file         ${plainText(path)}  sha256 ${sha256}`),
    ...missingFiles(run, folder, mayChange).map((argument) => `    not there    there is no file ${plainText(argument)} (yet)`),
    ...folderArguments(run, folder).map((path) => `    a folder     ${plainText(path)}: what it holds is not looked at`),
    ...mayChange.map((argument) => `    may change   ${plainText(argument)}: what it holds is not looked at`),
    ...reads.map((path) => `    reads        ${plainText(path)}: what it holds is not looked at`),
    `    folder       ${plainText(folder)}`,
    ...Object.entries(environment).map(([name, value]) => `    environment  ${plainText(name)}=${plainText(value)}`),
  ]
}

/** A program handed a folder may run what lies in it; no digest speaks for that. */
function folderArguments(run: readonly string[], folder: string): readonly string[] {
  return run.slice(1).flatMap((argument) => {
    const path = [argument, argument.slice(argument.indexOf('=') + 1)].map((candidate) => resolve(folder, candidate)).find((candidate) => statSync(candidate, { throwIfNoEntry: false })?.isDirectory() === true)
    return argument === '' || path === undefined ? [] : [path]
  })
}

/** Arguments that look like files, yet nothing is there: a slip of spelling, or what another command is to make. */
function missingFiles(run: readonly string[], folder: string, mayChange: readonly string[]): readonly string[] {
  return run.slice(1).flatMap((argument) => {
    const name = argument.slice(argument.indexOf('=') + 1)
    const isThere = [argument, name].some((candidate) => existsSync(resolve(folder, candidate)))
    return mayChange.includes(argument) || isThere || !LOOKS_LIKE_A_FILE.test(name) ? [] : [name]
  })
}

/** A name with an ending of letters, or with a folder before it; no option, no sentence, no address. */
const LOOKS_LIKE_A_FILE = /^(?!-)(?!.*:\/\/)[^\s;|&$"'`()]*(?:[^\s./\\]\.[A-Za-z][A-Za-z0-9]{0,5}|[\w.]\/[\w.-]+)$/
