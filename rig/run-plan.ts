// Carries out a plan: takes up what earlier sessions left, asks its source for steps, and journals each, until nothing is left or something stops it.
import { SpokenError, minutesText, planHash, type Outcome, type Plan } from '@guardband/model'
import { join } from 'node:path'
import type { ApprovalCheck } from './approval-store.ts'
import { sameBoot } from './boot-id.ts'
import { carryOutRunInto } from './carry-out-run.ts'
import { lockFolder } from './folder-lock.ts'
import type { JournalDisk } from './journal-disk.ts'
import { isFinishing, readJournalFolder, type FolderReading } from './journal-folder.ts'
import { noLink, type Link } from './link.ts'
import { ownMachine, type Machine } from './machine.ts'
import { journalFailure } from './journal-writer.ts'
import { bookNoStartInto, closeJournalInto, openLastJournalInto, openStartInto } from './open-start.ts'
import { createPatternFinder } from './pattern-finder.ts'
import { peopleAtTerminal, type People } from './people.ts'
import { createPlanSource } from './plan-source.ts'
import { endLeftGroup } from './process-group.ts'
import { resolveFlight } from './resolve-flight.ts'
import { askPerson, moment, type RigContext, type RigSources, type SessionState } from './rig-context.ts'
import { restartedSince } from './start-kind.ts'
import type { PromptStep, RunStep, StartStep, StepSource } from './step-source.ts'
import type { Terminal } from './terminal.ts'
import { minutesLeft } from './time-left.ts'

export interface RunPlanOrder {
  readonly plan: Plan
  readonly planFolder: string
  readonly rigFolder: string
  readonly sources: RigSources
  readonly disk: JournalDisk
  readonly terminal: Terminal
  /** Whom it can ask; the person at the terminal unless told. */
  readonly people?: People
  /** A hub or a companion behind it; none unless told. */
  readonly link?: Link
  /** The machine under test; this one unless told. */
  readonly machine?: Machine
  readonly approvals: ApprovalCheck
  /** Aborted when a person wants to stop. */
  readonly signal: AbortSignal
  readonly heartbeatSeconds?: number
  /** Where the steps come from; the plan itself unless told. */
  readonly source?: StepSource
}

export type RunPlanOutcome = 'finished' | 'stopped by a person' | 'person needed' | 'not approved' | 'disk full' | 'journal failed'

export interface RunPlanResult {
  /** Paths of the journals that this session wrote. */
  readonly journals: readonly string[]
  /** Ids of all steps finished so far, in this session and before. */
  readonly finished: readonly string[]
  /** Ids of the runs that were not run since their tune was not in force. */
  readonly skipped: readonly string[]
  /** How the finished runs ended, in this session and before. */
  readonly ends: readonly RunEnds[]
  readonly outcome: RunPlanOutcome
  /** Why it stopped; null when it finished. */
  readonly message: string | null
}

export interface RunEnds {
  readonly outcome: Outcome
  readonly runs: number
}

/** Never carries out a finished run again and never drops one. Throws SpokenError where it can't begin: folder busy, another plan's folder. */
export async function runPlan(order: RunPlanOrder): Promise<RunPlanResult> {
  const { plan, rigFolder, sources } = order
  const source = order.source ?? createPlanSource(plan)
  const release = lockFolder(rigFolder, sources)
  const patterns = createPatternFinder()
  try {
    const context: RigContext = {
      ...order,
      people: order.people ?? peopleAtTerminal(order.terminal, 'person at the rig'),
      link: order.link ?? noLink,
      machine: order.machine ?? ownMachine(sources.bootId),
      planHash: planHash(plan),
      journalFolder: journalFolderOf(rigFolder),
      check: order.approvals,
      patterns,
      heartbeatSeconds: order.heartbeatSeconds ?? HEARTBEAT_SECONDS,
    }
    return await carryOut(context, source)
  } finally {
    await patterns.close()
    release()
  }
}

export function journalFolderOf(rigFolder: string): string {
  return join(rigFolder, 'journals')
}

/** Between two of these a crash can't be timed better. */
const HEARTBEAT_SECONDS = 5

async function carryOut(context: RigContext, source: StepSource): Promise<RunPlanResult> {
  await context.disk.makeFolder(context.journalFolder)
  const reading = await readJournalFolder(context.disk, context.journalFolder, context.planHash)
  for (const caution of reading.cautions) context.terminal.say(`caution: ${caution}`)
  // What the next journal chains to must not vanish in a power cut after it.
  if (reading.last !== null) await settle(context, reading.last.path)
  const state = takeUp(context, reading)
  try {
    await carryOutSteps(state, context, source, reading)
    return result(state, 'finished', null)
  } catch (cause) {
    return await stop(state, context, cause)
  }
}

async function settle({ disk }: RigContext, path: string): Promise<void> {
  try {
    await disk.settle(path)
  } catch (cause) {
    throw journalFailure(path, cause)
  }
}

function takeUp(context: RigContext, reading: FolderReading): SessionState {
  const state: SessionState = {
    finished: new Map(reading.finished),
    waiting: [],
    journals: [],
    skipped: [],
    writer: null,
    start: null,
    previous: reading.last === null ? null : { journal: reading.last.journal, lastHash: reading.last.lastHash },
    startOrder: reading.journals.length,
    restarted: restartedSince(reading.journals, context.sources.bootId),
    startSeconds: [],
  }
  for (const flight of reading.inFlight) {
    const found = flight.notes.map(endLeftGroup)
    const left = found.find((group) => group === 'at work') ?? found.find((group) => group === 'leader ended') ?? 'gone'
    const resolved = resolveFlight(flight, { at: moment(context), bootId: context.sources.bootId, left })
    const { outcome, evidence } = resolved
    state.waiting.push(resolved)
    if (isFinishing(outcome) && !state.finished.has(flight.begin.step)) state.finished.set(flight.begin.step, { by: 'resolved', outcome, seconds: null, workload: flight.begin.workload })
    context.terminal.say(`${flight.begin.step} was in flight: ${isFinishing(outcome) ? outcome : 'it is carried out afresh'}. ${evidence}`)
  }
  return state
}

async function carryOutSteps(state: SessionState, context: RigContext, source: StepSource, reading: FolderReading): Promise<void> {
  await bookNoStart(state, context, source, reading)
  for (let step = source.next(state); step !== null; step = source.next(state)) {
    context.signal.throwIfAborted()
    if (step.kind === 'prompt') await carryOutPrompt(state, context, step)
    else if (step.kind === 'change') await openStartInto(state, context, step, runsOf(source, state, step))
    else await carryOutRunStep(state, context, source, step)
  }
  const lastOpen = reading.journals.findLast(({ open }) => open !== null)?.open
  const [waits] = state.waiting
  if (waits !== undefined) await openLastJournalInto(state, context, lastOpen?.step ?? ('step' in waits ? waits.step : 'none'))
  await closeJournalInto(state, context, 'nothing is left to run')
}

/** Where the program alone died the tune is not to blame, and the start is simply made afresh. */
async function bookNoStart(state: SessionState, context: RigContext, source: StepSource, { unfinished, last }: FolderReading): Promise<void> {
  const fell = unfinished.filter(({ bootId, nextBootId }) => !sameBoot(bootId, nextBootId ?? context.sources.bootId))
  const latest = fell.at(-1)
  if (latest === undefined || latest.journal !== last?.journal) return
  const change = source.remaining(state).map((step) => (step.kind === 'run' ? step.change : step)).find((step) => step.kind === 'change' && step.id === latest.step)
  if (change?.kind !== 'change') return
  await bookNoStartInto(state, context, { change, runs: runsOf(source, state, change), journal: latest.journal, times: fell.filter(({ step }) => step === latest.step).length })
}

async function carryOutRunStep(state: SessionState, context: RigContext, source: StepSource, step: RunStep): Promise<void> {
  if (state.start?.change.id !== step.change.id) {
    await openStartInto(state, context, step.change, runsOf(source, state, step.change))
    if (state.finished.has(step.id)) return
  }
  const { start } = state
  if (start === null) throw new RangeError(`a start must be open for step ${step.id}; got none`)
  const line = await carryOutRunInto(state, context, start, step)
  if (context.terminal.detail === 'steps') sayStep(state, context, source, line)
}

async function carryOutPrompt(state: SessionState, context: RigContext, step: PromptStep): Promise<void> {
  await askPerson(context, step.text, `step ${step.id}`)
  const done = { type: 'done', at: moment(context), step: step.id } as const
  if (state.writer === null) state.waiting.push(done)
  else await state.writer.writeSynced(done)
  state.finished.set(step.id, { by: 'done', outcome: null, seconds: null, workload: null })
}

function runsOf(source: StepSource, state: SessionState, change: StartStep): readonly RunStep[] {
  return source.remaining(state).filter((step): step is RunStep => step.kind === 'run' && step.change.id === change.id)
}

function sayStep(state: SessionState, context: RigContext, source: StepSource, line: string): void {
  const remaining = source.remaining(state)
  const minutes = minutesLeft(remaining, state.finished, state.startSeconds)
  const left = remaining.length === 0 ? '' : minutes === null ? '' : `  about ${minutesText(minutes)} left`
  context.terminal.say(`${state.finished.size} of ${state.finished.size + remaining.length}  ${line}${left}`)
}

/** After a failed journal nothing more is written anywhere; otherwise the open journal says why it ends. */
async function stop(state: SessionState, context: RigContext, cause: unknown): Promise<RunPlanResult> {
  const spoken = cause instanceof SpokenError ? cause : null
  const byPerson = context.signal.aborted && spoken === null
  const outcome = byPerson ? 'stopped by a person' : spoken === null ? undefined : STOPS[spoken.code]
  const leaves = outcome === 'journal failed' || outcome === 'disk full' || outcome === undefined || state.writer?.failed.aborted === true
  if (leaves) {
    await state.writer?.abandon()
    if (outcome === undefined) throw cause
    return result(state, outcome, spoken?.sentence ?? null)
  }
  const message = spoken?.sentence ?? 'stopped by a person'
  try {
    await closeJournalInto(state, context, message)
  } catch (failure) {
    await state.writer?.abandon()
    return result(state, 'journal failed', failure instanceof SpokenError ? failure.sentence : String(failure))
  }
  return result(state, outcome, message)
}

/** Stops that are a result, by the code of what was thrown; anything else is a fault of the program or of the plan and is thrown on. */
const STOPS: Readonly<Record<string, RunPlanOutcome | undefined>> = {
  'journal-failed': 'journal failed',
  'disk-full': 'disk full',
  'person-needed': 'person needed',
  'power-on-needed': 'person needed',
  'not-approved': 'not approved',
  'approval-changed': 'not approved',
  'no-program': 'not approved',
  'no-folder': 'not approved',
}

function result(state: SessionState, outcome: RunPlanOutcome, message: string | null): RunPlanResult {
  return { journals: state.journals, finished: [...state.finished.keys()], skipped: state.skipped, ends: endsOf(state), outcome, message }
}

function endsOf({ finished }: SessionState): readonly RunEnds[] {
  const outcomes = [...finished.values()].flatMap(({ by, outcome }) => (by === 'done' || outcome === null ? [] : [outcome]))
  return [...Map.groupBy(outcomes, (outcome) => outcome)].map(([outcome, all]) => ({ outcome, runs: all.length }))
}
