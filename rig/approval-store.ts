// Keeps what a person approved on this machine, in their own configuration folder, and holds commands against it.
import { closeSync, fstatSync, mkdirSync, openSync, readFileSync, statSync, type Stats } from 'node:fs'
import { dirname, join } from 'node:path'
import { SpokenError, contentDigest, type Command } from '@guardband/model'
import { codeOfDigests, pinCommand, type BaseEnvironment, type ListedCommand, type PinnedCommand } from './approvals.ts'
import type { FileHasher } from './file-hash.ts'
import { writeWhole } from './write-whole.ts'

export interface Approval {
  /** When, and for which plan: for people; neither decides. */
  readonly at: string
  readonly plan: string
  readonly code: string
  readonly commands: readonly PinnedCommand[]
}

export interface ApprovalStore {
  readonly approvals: readonly Approval[]
}

/** `$XDG_CONFIG_HOME/guardband/approvals.json`, else under `~/.config`. */
export function approvalsPath(environment: Readonly<Record<string, string | undefined>>, home: string): string {
  const config = environment['XDG_CONFIG_HOME']
  return join(config === undefined || config === '' ? join(home, '.config') : config, 'guardband', 'approvals.json')
}

/**
 * An absent file is an empty store; a broken one throws, so that nothing is approved by accident or forgotten in silence. So does one that somebody else could have
 * written, and one whose commands are not those that its codes stand for. `owner`: whose approvals they are, where it isn't the user of this process.
 */
export function readApprovals(path: string, owner: number | undefined = process.getuid?.()): ApprovalStore {
  let file: number
  try {
    file = openSync(path, 'r')
  } catch (cause) {
    if (cause instanceof Error && 'code' in cause && cause.code === 'ENOENT') return { approvals: [] }
    throw cause
  }
  let text: string
  try {
    const fault = guarded(fstatSync(file), path, owner)
    if (fault !== null) throw new SpokenError({ code: 'approvals-unsafe', place: path, message: `${fault}; what is approved there may not be yours.`, mend: 'Look at who did that. Then move the file away, mend the rights, and approve your plans again.' })
    text = readFileSync(file, 'utf8')
  } finally {
    closeSync(file)
  }
  try {
    const { version, approvals }: { readonly version?: unknown; readonly approvals?: unknown } = JSON.parse(text)
    if (version === STORE_VERSION && Array.isArray(approvals) && approvals.every(isApproval) && approvals.every(isOfItsCode)) return { approvals }
  } catch {
    // Said below: it can't be read.
  }
  throw new SpokenError({ code: 'approvals-unreadable', place: path, message: 'this file of approvals is damaged, was changed by hand, or is of another version.', mend: 'Move it away and approve your plans again.' })
}

/** Adds an approval: written beside, synced, put in place whole; nobody else can read it. */
export function addApproval(path: string, approval: Approval, newId: () => string): void {
  const { approvals } = readApprovals(path)
  mkdirSync(dirname(path), { recursive: true, mode: 0o700 })
  writeWhole({ path, content: `${JSON.stringify({ version: STORE_VERSION, approvals: [...approvals, approval] }, null, 1)}\n`, mode: 0o600 }, newId)
}

export function approvalOf(commands: readonly ListedCommand[], about: { readonly at: string; readonly plan: string; readonly code: string }): Approval {
  return { ...about, commands: commands.map(({ pinned }) => pinned) }
}

/** Gives the pinned form of a command that may run now, or throws what stands in its way. */
export type ApprovalCheck = (command: Command) => PinnedCommand

export interface CheckOrder {
  readonly store: ApprovalStore
  readonly planFolder: string
  readonly base: BaseEnvironment
  readonly hash: FileHasher
}

/**
 * The check that stands before every execution. PATH and HOME are those of the approval, not of today's shell. Throws `not-approved`, or
 * `approval-changed` naming each thing that is no longer as approved.
 */
export function createApprovalCheck({ store, planFolder, base, hash }: CheckOrder): ApprovalCheck {
  const approved = store.approvals.flatMap(({ commands }) => commands).toReversed()
  return (command) => {
    const like = approved.filter(({ run }) => sameList(run, command.run))
    for (const candidate of like) {
      const pinned = pinCommand({ command, planFolder, base: baseOf(candidate, base), hash })
      if (contentDigest(pinned) === contentDigest(candidate)) return pinned
    }
    const shown = command.run.join(' ')
    if (like.length === 0) {
      throw new SpokenError({ code: 'not-approved', place: shown, message: 'this command has not been approved on this machine.', mend: 'See what the plan runs and approve it: npx guardband rig approve PLAN.' })
    }
    const changes = differences(like[0], pinCommand({ command, planFolder, base: baseOf(like[0], base), hash }))
    throw new SpokenError({
      code: 'approval-changed',
      place: shown,
      message: `this command is no longer what was approved: ${changes.join('; ')}.`,
      mend: 'Look at what changed, then approve the plan again. A file that the command itself changes belongs under "mayChange" in the plan.',
    })
  }
}

const STORE_VERSION = 1

/** A person's approvals of years; more is no file of approvals, and would fill the memory. */
const LARGEST = 16 * 1024 * 1024

/** Why others may have had a hand in it; null where only its owner and root can. */
function guarded(file: Stats, path: string, owner: number | undefined): string | null {
  if (!file.isFile()) return 'this is no file'
  if (file.size > LARGEST) return `this file has ${Math.round(file.size / 1024 / 1024)} MB`
  // Windows keeps rights elsewhere.
  if (owner === undefined || process.platform === 'win32') return null
  const folder = statSync(dirname(path))
  for (const [what, { uid, mode }] of [['this file', file], ['the folder of this file', folder]] as const) {
    if (uid !== owner && uid !== 0) return `${what} belongs to another user (${uid})`
    if ((mode & OTHERS_MAY_WRITE) !== 0) return `others than its owner may write to ${what}`
  }
  return null
}

const OTHERS_MAY_WRITE = 0o022

/** Its code is the digest of its commands: an entry edited by hand no longer has it. Earlier ones have the first half of it. */
function isOfItsCode({ code, commands }: Approval): boolean {
  return code.length >= 8 && codeOfDigests(commands.map((pinned) => contentDigest(pinned))).startsWith(code)
}

function baseOf(approved: PinnedCommand, base: BaseEnvironment): BaseEnvironment {
  return { PATH: approved.environment['PATH'] ?? base.PATH, HOME: approved.environment['HOME'] ?? base.HOME }
}

function differences(approved: PinnedCommand, now: PinnedCommand): readonly string[] {
  const changes: string[] = []
  if (approved.program.path !== now.program.path) changes.push(`the program is ${now.program.path}, not ${approved.program.path}`)
  else if (approved.program.sha256 !== now.program.sha256) changes.push(`the program file ${now.program.path} has changed`)
  if (JSON.stringify(approved.interpreters) !== JSON.stringify(now.interpreters)) changes.push(`what runs the script ${now.program.path} has changed (${now.interpreters?.map(({ path }) => path).join(', ') ?? 'nothing does'})`)
  const before = new Map(approved.files.map((file) => [file.path, file.sha256]))
  for (const { path, sha256 } of now.files) {
    if (!before.has(path)) changes.push(`the argument file ${path} was not there`)
    else if (before.get(path) !== sha256) changes.push(`the argument file ${path} has changed`)
  }
  for (const { path } of approved.files) if (!now.files.some((file) => file.path === path)) changes.push(`the argument file ${path} is gone`)
  if (approved.folder !== now.folder) changes.push(`the working folder is ${now.folder}, not ${approved.folder}`)
  if (!sameList(approved.mayChange, now.mayChange)) changes.push('the files that may change are other ones')
  const names = new Set([...Object.keys(approved.environment), ...Object.keys(now.environment)])
  for (const name of names) if (approved.environment[name] !== now.environment[name]) changes.push(`the environment variable ${name} has changed`)
  return changes
}

function sameList(a: readonly string[], b: readonly string[]): boolean {
  return a.length === b.length && a.every((item, index) => item === b[index])
}

function isApproval(value: unknown): value is Approval {
  return typeof value === 'object' && value !== null && 'code' in value && typeof value.code === 'string' && 'commands' in value && Array.isArray(value.commands) && value.commands.every(isPinned)
}

/** Enough that comparing can't throw; a forged rest simply never matches. */
function isPinned(value: unknown): value is PinnedCommand {
  return (
    typeof value === 'object' && value !== null && 'run' in value && Array.isArray(value.run) && 'program' in value && typeof value.program === 'object' &&
    'files' in value && Array.isArray(value.files) && 'mayChange' in value && Array.isArray(value.mayChange) && 'folder' in value &&
    'environment' in value && typeof value.environment === 'object' && value.environment !== null
  )
}
