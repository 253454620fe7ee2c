// What a plan may run, pinned down to contents: the resolved program, every argument that is a file, the working folder, the environment.
import { accessSync, constants, realpathSync, statSync } from 'node:fs'
import { delimiter, isAbsolute, join, resolve } from 'node:path'
import { SpokenError, contentDigest, type Command, type Plan, type PlanTraining, type Reading } from '@guardband/model'
import { createFileHasher, type FileHasher } from './file-hash.ts'
import { scriptInterpreters } from './script-interpreters.ts'

/** One command as it stands on this machine. All of it goes into the digest. */
export interface PinnedCommand {
  readonly run: readonly string[]
  readonly program: PinnedFile
  /** The programs that a script's first line names; left out for a program that is no script. */
  readonly interpreters?: readonly PinnedFile[]
  readonly files: readonly PinnedArgument[]
  /** Arguments that the plan declares as changing: named, not pinned. */
  readonly mayChange: readonly string[]
  readonly folder: string
  /** The whole environment that it will get. */
  readonly environment: Readonly<Record<string, string>>
}

export interface PinnedFile {
  readonly path: string
  readonly sha256: string
}

export interface PinnedArgument extends PinnedFile {
  readonly argument: string
}

export interface ListedCommand {
  /** What the plan uses it for, in words. */
  readonly uses: readonly string[]
  /** Files out of which values are read after it, by their whole paths: named for people, not pinned. */
  readonly reads: readonly string[]
  readonly pinned: PinnedCommand
  readonly digest: string
}

/** The part of the rig's own environment that commands get. */
export interface BaseEnvironment {
  readonly PATH: string
  readonly HOME: string
}

export interface PlanUse {
  readonly use: string
  readonly command: Command
  /** Files that its readings name, as the plan writes them. */
  readonly reads: readonly string[]
}

/** A value that is read out of a file with nothing run before it. */
export interface FileRead {
  readonly use: string
  readonly path: string
}

/** Every command that a plan can run, in the plan's order, equal ones once. */
export function listCommands(plan: Plan, planFolder: string, base: BaseEnvironment, hash: FileHasher = createFileHasher()): readonly ListedCommand[] {
  return listUses(planUses(plan), planFolder, base, hash)
}

/** The same of what somebody else's file may run, such as a companion's. */
export function listUses(uses: readonly PlanUse[], planFolder: string, base: BaseEnvironment, hash: FileHasher = createFileHasher()): readonly ListedCommand[] {
  const listed = new Map<string, ListedCommand>()
  for (const { use, command, reads } of uses) {
    const pinned = pinCommand({ command, planFolder, base, hash })
    const digest = contentDigest(pinned)
    const before = listed.get(digest)
    const paths = reads.map((file) => resolve(pinned.folder, file))
    listed.set(digest, { pinned, digest, uses: [...(before?.uses ?? []), use], reads: [...new Set([...(before?.reads ?? []), ...paths])] })
  }
  return [...listed.values()]
}

/** What a person repeats to approve: the first 16 hexadecimal digits of the digest over all commands. */
export function approvalCode(commands: readonly ListedCommand[]): string {
  return codeOfDigests(commands.map(({ digest }) => digest))
}

export function codeOfDigests(digests: readonly string[]): string {
  return contentDigest(digests.toSorted()).slice(0, APPROVAL_CODE_LENGTH)
}

/** In groups of four, for reading and copying by hand. */
export function shownCode(code: string): string {
  return code.replace(/.{4}(?=.)/g, '$&-')
}

/** What a person typed, with or without spaces and hyphens. */
export function typedCode(text: string): string {
  return text.replace(/[\s-]/g, '').toLowerCase()
}

export function planUses(plan: Plan): readonly PlanUse[] {
  const { machine, training } = plan
  return [
    ...plan.tunes.flatMap(({ name, apply, readBack }) => [
      ...(apply === undefined ? [] : [{ use: `puts the tune "${name}" in force`, command: apply, reads: [] }]),
      ...readBack.flatMap(({ key, command, reading }) => (command === undefined ? [] : [{ use: readBackUse(key, name), command, reads: filesOf([reading]) }])),
    ]),
    ...plan.workloads.flatMap(({ name, command, measures }) => (command === undefined ? [] : [{ use: `runs the workload "${name}"`, command, reads: filesOf(measures.map(({ reading }) => reading)) }])),
    ...(training?.command === undefined ? [] : [{ use: 'tells how memory training went', command: training.command, reads: filesOf(trainingReadings(training)) }]),
    ...(machine === undefined
      ? []
      : [
          { use: 'tells which boot the machine under test is in', command: machine.boot.command, reads: filesOf([machine.boot.reading]) },
          ...(['cold', 'warm'] as const).flatMap((how) => (machine.powerOn[how] === undefined ? [] : [{ use: `gives the machine under test a ${how} start`, command: machine.powerOn[how], reads: [] }])),
          ...machine.recover.map((command) => ({ use: 'brings the machine under test back when it stands still', command, reads: [] })),
        ]),
  ]
}

export function readsWithoutCommand({ tunes, workloads, training }: Plan, planFolder: string): readonly FileRead[] {
  const reads = (use: string, readings: readonly Reading[]): readonly FileRead[] => filesOf(readings).map((file) => ({ use, path: resolve(planFolder, file) }))
  return [
    ...tunes.flatMap(({ name, readBack }) => readBack.flatMap(({ key, command, reading }) => (command === undefined ? reads(readBackUse(key, name), [reading]) : []))),
    ...workloads.flatMap(({ name, prompt, measures }) => (prompt === undefined ? [] : reads(`measures the workload "${name}", which a person carries out`, measures.map(({ reading }) => reading)))),
    ...(training === undefined || training.command !== undefined ? [] : reads('tells how memory training went', trainingReadings(training))),
  ]
}

export interface PinOrder {
  readonly command: Command
  readonly planFolder: string
  readonly base: BaseEnvironment
  readonly hash: FileHasher
}

/** Throws `no-program` or `no-folder` with the place and the mend. */
export function pinCommand({ command, planFolder, base, hash }: PinOrder): PinnedCommand {
  const folder = realFolder(resolve(planFolder, command.folder ?? '.'))
  const program = findProgram(command.run[0], folder, base.PATH)
  const mayChange = command.mayChange ?? []
  const environment = { LANG: 'C', ...base, ...command.environment }
  const interpreters = scriptInterpreters(program, environment.PATH).map((path) => ({ path, sha256: hash(path) }))
  return {
    run: command.run,
    program: { path: program, sha256: hash(program) },
    ...(interpreters.length === 0 ? {} : { interpreters }),
    files: [
      ...command.run.slice(1).flatMap((argument) => (mayChange.includes(argument) ? [] : pinArgument(argument, folder, hash))),
      // A library that is to be loaded, a settings file: named in the environment, it decides what runs as much as an argument does.
      ...Object.entries(command.environment ?? {}).flatMap(([name, value]) => (mayChange.includes(value) ? [] : value.split(delimiter).flatMap((part) => pinFirst([part], `${name}=${value}`, folder, hash)))),
    ],
    mayChange,
    folder,
    environment,
  }
}

/** 64 bits: nobody finds two lists of commands with the same code by trying, and a person can still compare it by eye. */
const APPROVAL_CODE_LENGTH = 16

function trainingReadings({ result, tries, seconds, postCode }: PlanTraining): readonly Reading[] {
  return [result, tries, seconds, postCode].filter((reading) => reading !== undefined)
}

function readBackUse(key: string, tune: string): string {
  return `reads back ${key} for the tune "${tune}"`
}

function filesOf(readings: readonly Reading[]): readonly string[] {
  return readings.flatMap((reading) => ('file' in reading ? [reading.file] : []))
}

/**
 * The argument itself, or what stands after "=" in it, where that is a file; or what a program makes of it: a file stuck to an option (`-Ifile`), one behind
 * "@", a script named without its ending.
 */
function pinArgument(argument: string, folder: string, hash: FileHasher): readonly PinnedArgument[] {
  const stuck = /^-[A-Za-z](.+)$/.exec(argument)?.[1]
  const candidates = [argument, argument.slice(argument.indexOf('=') + 1), ...(stuck === undefined ? [] : [stuck]), ...(argument.startsWith('@') ? [argument.slice(1)] : []), ...SCRIPT_ENDINGS.map((ending) => argument + ending)]
  return pinFirst(candidates, argument, folder, hash)
}

function pinFirst(candidates: readonly string[], argument: string, folder: string, hash: FileHasher): readonly PinnedArgument[] {
  const path = candidates.filter((candidate) => candidate !== '').map((candidate) => resolve(folder, candidate)).find(isFile)
  return path === undefined || argument === '' ? [] : [{ argument, path, sha256: hash(path) }]
}

/** That interpreters of scripts add by themselves, or find in a folder so named. */
const SCRIPT_ENDINGS = ['.js', '.json', '.node', '/package.json', '/index.js', '/__main__.py']

function findProgram(name: string, folder: string, path: string): string {
  const candidates = /[/\\]/.test(name) ? [resolve(folder, name)] : path.split(delimiter).filter(isAbsolute).map((entry) => join(entry, name))
  const endings = process.platform === 'win32' ? ['', '.exe', '.com'] : ['']
  const found = candidates.flatMap((candidate) => endings.map((ending) => candidate + ending)).find(isProgram)
  if (found !== undefined) return realpathSync(found)
  const sought = /[/\\]/.test(name) ? candidates[0] : `the folders of PATH (${path})`
  throw new SpokenError({ code: 'no-program', place: name, message: `there is no such program to run in ${sought}.`, mend: 'Correct the first word of "run" in the plan, or install the program.' })
}

function realFolder(path: string): string {
  try {
    const real = realpathSync(path)
    if (statSync(real).isDirectory()) return real
  } catch {
    // Said below: it is not there.
  }
  throw new SpokenError({ code: 'no-folder', place: path, message: 'this working folder of a command is not there.', mend: 'Make it, or correct "folder" in the plan; it is taken from the plan\'s own folder.' })
}

function isFile(path: string): boolean {
  return statSync(path, { throwIfNoEntry: false })?.isFile() === true
}

function isProgram(path: string): boolean {
  try {
    accessSync(path, constants.X_OK)
    return isFile(path)
  } catch {
    return false
  }
}
