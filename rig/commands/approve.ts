// `rig approve`: lists everything that a plan can run, and lets it once its code is repeated.
import { existsSync, statSync } from 'node:fs'
import { resolve } from 'node:path'
import { SpokenError, counted } from '@guardband/model'
import { addApproval, approvalOf } from '../approval-store.ts'
import { approvalCode, listCommands, readsWithoutCommand, shownCode, typedCode, type FileRead, type ListedCommand } from '../approvals.ts'
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
