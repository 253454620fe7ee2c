// `rig approve`: lists everything that a plan can run, and lets it once its code is repeated.
import { existsSync, readFileSync, statSync } from 'node:fs'
import { dirname, resolve } from 'node:path'
import { SpokenError, counted, type Plan } from '@guardband/model'
import { addApproval, approvalOf } from '../approval-store.ts'
import { approvalCode, listUses, planUses, readsWithoutCommand, shownCode, typedCode, type FileRead, type ListedCommand, type PlanUse } from '../approvals.ts'
import { readWatchFile, watchUses } from '../companion/read-watch.ts'
import { plainText, plainWord } from '../plain-text.ts'
import type { Terminal } from '../terminal.ts'
import { EXIT } from './exit.ts'
import { approvalsFile, baseEnvironment, machineSources, openPlan } from './plan-file.ts'

export interface ApproveArgs {
  readonly planFile: string
  /** The code that a listing showed. */
  readonly code?: string
}

/** Shows everything that the plan can run; approves it when the code is repeated. Resolves to the exit status. */
export async function approve({ planFile, code }: ApproveArgs, terminal: Terminal, signal: AbortSignal = new AbortController().signal): Promise<number> {
  const { id, uses, planFolder, plan, next } = openApprovable(planFile)
  const commands = listUses(uses, planFolder, baseEnvironment())
  const expected = approvalCode(commands)
  for (const line of describeCommands(commands)) terminal.say(line)
  if (plan !== null) for (const line of describeReads(readsWithoutCommand(plan, planFolder))) terminal.say(line)
  terminal.say(`${counted(commands.length, 'command')} in all; code ${shownCode(expected)}`)
  const given = code ?? (terminal.interactive ? await terminal.ask('Type the code to let this plan run them on this machine:', signal) : undefined)
  if (given === undefined) {
    terminal.say(`Nothing is approved yet. When all of this may run here: npx guardband rig approve ${planFile} --code ${shownCode(expected)}`)
    return EXIT.notApproved
  }
  if (typedCode(given) !== expected) {
    throw new SpokenError({ code: 'approval-code', place: planFile, message: `the code must be ${shownCode(expected)}, as just listed; got ${given.trim() || 'nothing'}.`, mend: 'Something changed since that code was shown, or it was mistyped: look through the list and repeat its code.' })
  }
  addApproval(approvalsFile(), approvalOf(commands, { at: new Date().toISOString(), plan: id, code: expected }), machineSources().newId)
  terminal.say(`Approved on this machine. ${next}`)
  return EXIT.well
}

interface Approvable {
  readonly id: string
  readonly uses: readonly PlanUse[]
  readonly planFolder: string
  /** Null for a companion's watch file. */
  readonly plan: Plan | null
  readonly next: string
}

/** A plan, or the watch file of a companion: that has no tunes, and says when silence counts. */
function openApprovable(file: string): Approvable {
  if (!isWatchFile(file)) {
    const { plan, planFolder } = openPlan(file)
    return { id: plan.id, uses: planUses(plan), planFolder, plan, next: `Run it with: npx guardband rig run ${file}` }
  }
  const watch = readWatchFile(file)
  return { id: watch.id, uses: watchUses(watch), planFolder: dirname(resolve(file)), plan: null, next: `Run it with: npx guardband rig companion ${file}` }
}

function isWatchFile(file: string): boolean {
  try {
    const json: unknown = JSON.parse(readFileSync(file, 'utf8'))
    return typeof json === 'object' && json !== null && !('tunes' in json) && ('actions' in json || 'silenceSeconds' in json)
  } catch {
    // What is no JSON at all is told as a plan's fault, with its place.
    return false
  }
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

function aboutCommand({ reads, pinned: { run, program, interpreters = [], files, mayChange, folder, environment } }: ListedCommand): readonly string[] {
  return [
    `    program      ${plainText(program.path)}  sha256 ${program.sha256}`,
    ...interpreters.map(({ path, sha256 }) => `    run by       ${plainText(path)}  sha256 ${sha256}`),
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
