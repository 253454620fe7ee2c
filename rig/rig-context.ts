// What the steps of one session share: the plan, the ports, and what has happened so far.
import { SpokenError, type Command, type JournalBody, type Plan } from '@guardband/model'
import type { ApprovalCheck } from './approval-store.ts'
import { runCommand, type CommandEnd } from './command-driver.ts'
import type { JournalDisk } from './journal-disk.ts'
import type { JournalWriter } from './journal-writer.ts'
import type { Link } from './link.ts'
import type { Machine } from './machine.ts'
import type { PatternFinder } from './pattern-finder.ts'
import type { People } from './people.ts'
import type { FinishedStep, StartStep } from './step-source.ts'
import type { Terminal } from './terminal.ts'

export interface RigSources {
  /** Milliseconds since 1970. */
  readonly now: () => number
  /** Seconds from a clock that never steps. */
  readonly monotonic: () => number
  readonly newId: () => string
  readonly bootId: string
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
  readonly link: Link
  readonly machine: Machine
  readonly check: ApprovalCheck
  readonly patterns: PatternFinder
  readonly sources: RigSources
  /** A person's wish to stop. */
  readonly signal: AbortSignal
  readonly heartbeatSeconds: number
}

/** The start that is open now. */
export interface OpenedStart {
  readonly change: StartStep
  readonly inForceId: string
  readonly writer: JournalWriter
  /** Null when its tune is not in force: its runs are not run. */
  readonly tune: string | null
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
  /** The machine restarted since the last start that came about: the next one is no live change. */
  restarted: boolean
  /** Seconds that putting a tune in force has taken so far, one a start. */
  readonly startSeconds: number[]
}

export function moment({ sources }: RigContext): string {
  return new Date(sources.now()).toISOString()
}

/** Fits a sentence into a journal's message. */
export function clip(text: string): string {
  return text.length <= MESSAGE_LIMIT ? text : `${text.slice(0, MESSAGE_LIMIT - 1)}…`
}

/** Checks the approval and runs the command at once. */
export function execute(context: RigContext, command: Command, signal: AbortSignal, onStart?: (pid: number) => void): Promise<CommandEnd> {
  const { program, folder, environment } = context.check(command)
  const [calledAs, ...args] = command.run
  return runCommand(
    { executable: program.path, calledAs, args, folder, environment, timeLimitSeconds: command.timeLimitSeconds },
    { monotonic: context.sources.monotonic, signal, onStart },
  )
}

/** Asks a person for an empty line; stops with a sentence when nobody is there. */
export async function askPerson(context: RigContext, text: string, place: string): Promise<void> {
  const { terminal, signal } = context
  if (!terminal.interactive) {
    throw new SpokenError({ code: 'person-needed', place, message: `a person is needed here: ${text}`, mend: 'Run the plan on a terminal; it goes on at this step.' })
  }
  await terminal.ask(`${text} Press Enter when it is done, Ctrl-C to stop.`, signal)
}

/** Asks until one of the words comes back. For a terminal where somebody is there. */
export async function askChoice<Word extends string>({ terminal, signal }: RigContext, question: string, words: readonly Word[]): Promise<Word> {
  const choice = `Type ${words.slice(0, -1).join(', ')} or ${words[words.length - 1]}.`
  for (let text = `${question} ${choice}`; ; text = choice) {
    signal.throwIfAborted()
    const answer = (await terminal.ask(text, signal)).trim().toLowerCase()
    const word = words.find((known) => known === answer)
    if (word !== undefined) return word
  }
}

/** As the journal's messages allow. */
const MESSAGE_LIMIT = 4000
