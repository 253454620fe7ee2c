// What the steps of one session share: the plan, the ports, and what has happened so far.
import type { Command, JournalBody, Plan } from '@guardband/model'
import type { ApprovalCheck } from './approval-store.ts'
import type { CeilingCheck } from './ceilings.ts'
import { runCommand, type CommandEnd } from './command-driver.ts'
import type { ReadConditions } from './conditions.ts'
import type { Crash } from './crashes.ts'
import type { JournalDisk } from './journal-disk.ts'
import type { JournalWriter } from './journal-writer.ts'
import type { Link } from './link.ts'
import type { Machine } from './machine.ts'
import type { PatternFinder } from './pattern-finder.ts'
import type { People, Question, Said } from './people.ts'
import type { GateResult } from './read-back.ts'
import type { SelfCheckKernel } from './self-check.ts'
import type { FinishedStep, StartStep } from './step-source.ts'
import type { Terminal } from './terminal.ts'

export interface RigSources {
  /** Milliseconds since 1970. */
  readonly now: () => number
  /** Seconds from a clock that never steps. */
  readonly monotonic: () => number
  readonly newId: () => string
  readonly bootId: string
  /** Seconds since this machine came up. */
  readonly uptime: () => number
  /** Rejects when the signal is aborted first. */
  readonly sleep: (milliseconds: number, signal: AbortSignal) => Promise<void>
}

export interface RigContext {
  readonly plan: Plan
  readonly planHash: string
  readonly planFolder: string
  readonly rigFolder: string
  readonly journalFolder: string
  readonly disk: JournalDisk
  readonly terminal: Terminal
  readonly people: People
  /** Asks, and has the answer on disk before it returns. Stops with `person-needed` where nobody can answer. Rejects when a person wants to stop, or when `until` is aborted. */
  readonly ask: (question: Question, until?: AbortSignal) => Promise<Said>
  readonly link: Link
  readonly machine: Machine
  readonly check: ApprovalCheck
  /** Throws for a tune past a ceiling of the plan or of this rig. */
  readonly ceilings: CeilingCheck
  readonly conditions: ReadConditions
  readonly patterns: PatternFinder
  /** The self-checks that this rig has. */
  readonly kernels: readonly SelfCheckKernel[]
  readonly sources: RigSources
  /** A person's wish to stop. */
  readonly signal: AbortSignal
  readonly heartbeatSeconds: number
  /** unattended: nobody started this by hand. */
  readonly attendance: 'attended' | 'unattended'
}

/** The start that is open now. */
export interface OpenedStart {
  readonly change: StartStep
  readonly writer: JournalWriter
  /** The tune asked for last: by its change, or by a live change since. */
  asked: string
  inForceId: string
  /** Null when the tune asked for is not in force: its runs are not run. */
  tune: string | null
  /** What is known of what is in force, and what a workload has yet to report of it. */
  gate: GateResult
  /** Place of the next run. */
  order: number
}

/** What changes as a session goes on. */
export interface SessionState {
  readonly finished: Map<string, FinishedStep>
  /** Records that wait for the next journal: resolved steps, answers given while none was open. */
  readonly waiting: JournalBody[]
  readonly journals: string[]
  readonly skipped: string[]
  writer: JournalWriter | null
  start: OpenedStart | null
  /** The end of the chain. */
  previous: { readonly journal: string; readonly lastHash: string } | null
  startOrder: number
  /** The boot of the machine under test. */
  boot: string
  /** Every crash of this plan so far. */
  readonly crashes: Crash[]
  /** Tunes that a person let go further from base than one that crashed. */
  readonly letPass: Set<string>
  /** Tunes of which it was said that they can't be compared with base in every setting. */
  readonly toldUnlike: Set<string>
  /** The machine restarted since the last start that came about: the next one is no live change. */
  restarted: boolean
  /** Seconds that putting a tune in force has taken so far, one a start. */
  readonly startSeconds: number[]
}

export function moment({ sources }: Pick<RigContext, 'sources'>): string {
  return new Date(sources.now()).toISOString()
}

/** Fits a sentence into a journal's message. */
export function clip(text: string): string {
  return text.length <= MESSAGE_LIMIT ? text : `${text.slice(0, MESSAGE_LIMIT - 1)}…`
}

/** Checks the approval and runs the command at once. */
export function execute(context: Pick<RigContext, 'check'> & { readonly sources: Pick<RigSources, 'monotonic'> }, command: Command, signal: AbortSignal, onStart?: (pid: number) => void): Promise<CommandEnd> {
  const { program, folder, environment } = context.check(command)
  const [calledAs, ...args] = command.run
  return runCommand(
    { executable: program.path, calledAs, args, folder, environment, timeLimitSeconds: command.timeLimitSeconds },
    { monotonic: context.sources.monotonic, signal, onStart },
  )
}

/** As the journal's messages allow. */
const MESSAGE_LIMIT = 4000
