// Carries out a plan: takes up what earlier sessions left, asks its source for steps, and journals each, until nothing is left or something stops it.
import { SpokenError, counted, minutesText, planHash, type Outcome, type Plan } from '@guardband/model'
import { join, resolve } from 'node:path'
import type { ApprovalCheck } from './approval-store.ts'
import { askerFor } from './ask.ts'
import { carryOutRunInto } from './carry-out-run.ts'
import { createCeilingCheck, type CeilingCheck } from './ceilings.ts'
import { planConditions, type ReadConditions } from './conditions.ts'
import { closeBarredInto } from './close-barred.ts'
import { CRASHES } from './crashes.ts'
import { lockFolder } from './folder-lock.ts'
import type { JournalDisk } from './journal-disk.ts'
import { readJournalFolder, type FolderReading } from './journal-folder.ts'
import { rungThatHolds } from './ladder-source.ts'
import { noLink, type Link } from './link.ts'
import { ownMachine, type Machine } from './machine.ts'
import { closeJournalInto, mirror, openLastJournalInto, silentMachine } from './open-start.ts'
import { createPatternFinder, type PatternFinder } from './pattern-finder.ts'
import { nobody, peopleAtTerminal, type People } from './people.ts'
import { createPlanSource } from './plan-source.ts'
import { putInForceInto } from './put-in-force.ts'
import { readValue } from './reading.ts'
import { createRemoteMachine } from './remote-machine.ts'
import { WENT_DOWN } from './restarts.ts'
import { execute, moment, type RigContext, type RigSources, type SessionState } from './rig-context.ts'
import { runsOf } from './runs-of.ts'
import { requireKernels, type SelfCheckKernel } from './self-check.ts'
import { restartedSince } from './start-kind.ts'
import type { PromptStep, RunStep, StepSource } from './step-source.ts'
import { forgetStop, stopAsked } from './stop-request.ts'
import { checkRestarts, newState, settleLast, stopped, takeUpInto } from './take-up.ts'
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
  /** Those of the plan and of this rig; the plan's unless told. */
  readonly ceilings?: CeilingCheck
  /** Of each start; what the plan says of them unless told. */
  readonly conditions?: ReadConditions
  /** Aborted when a person wants to stop. */
  readonly signal: AbortSignal
  readonly heartbeatSeconds?: number
  /** unattended: nobody started this by hand; an earlier wish to stop holds, and nobody is asked. */
  readonly attendance?: 'attended' | 'unattended'
  /** Where the steps come from; the plan itself unless told. */
  readonly source?: StepSource
  /** The self-checks that a plan may name; none unless told. */
  readonly kernels?: readonly SelfCheckKernel[]
}

export type RunPlanOutcome = 'finished' | 'stopped by a person' | 'person needed' | 'not approved' | 'disk full' | 'journal failed' | 'too many restarts' | 'machine silent'

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
  /** It stopped for the machine to be powered off and on. */
  readonly waitsForPower: boolean
  /** Forks, damage, foreign files in its folder of journals: a sentence each. */
  readonly cautions: readonly string[]
}

type Ended = Omit<RunPlanResult, 'cautions'>

export interface RunEnds {
  readonly outcome: Outcome
  readonly runs: number
}

/** Never carries out a finished run again and never drops one. Throws SpokenError where it can't begin: folder busy, another plan's folder. */
export async function runPlan(order: RunPlanOrder): Promise<RunPlanResult> {
  const { plan, rigFolder, sources } = order
  const source = order.source ?? createPlanSource(plan)
  const kernels = order.kernels ?? []
  requireKernels(plan, kernels)
  const unattended = order.attendance === 'unattended'
  const release = lockFolder(rigFolder, sources)
  const patterns = createPatternFinder()
  try {
    // Only a person at the rig takes such a wish back.
    if (!unattended) forgetStop(rigFolder)
    return await carryOut(
      {
        ...order,
        kernels,
        people: order.people ?? (unattended ? nobody : peopleAtTerminal(order.terminal, 'person at the rig')),
        link: order.link ?? noLink,
        machine: order.machine ?? machineOf(order, patterns),
        planHash: planHash(plan),
        journalFolder: journalFolderOf(rigFolder),
        check: order.approvals,
        ceilings: order.ceilings ?? createCeilingCheck({ plan, own: () => [] }),
        conditions: order.conditions ?? planConditions(plan.conditions),
        patterns,
        heartbeatSeconds: order.heartbeatSeconds ?? HEARTBEAT_SECONDS,
        attendance: order.attendance ?? 'attended',
      },
      source,
    )
  } finally {
    await patterns.close()
    release()
  }
}

/** Beside it stands the one that the plan names; else it is this one. */
function machineOf({ plan, planFolder, sources, approvals, signal }: RunPlanOrder, patterns: PatternFinder): Machine {
  const { machine } = plan
  if (machine === undefined) return ownMachine(sources.bootId)
  return createRemoteMachine(machine, {
    execute: (command) => execute({ sources, check: approvals }, command, signal),
    read: (reading, end) => readValue(reading, { folder: resolve(planFolder, machine.boot.command.folder ?? '.'), end, patterns }),
    monotonic: sources.monotonic,
    sleep: (milliseconds) => sources.sleep(milliseconds, signal),
  })
}

export function journalFolderOf(rigFolder: string): string {
  return join(rigFolder, 'journals')
}

/** Between two of these a crash can't be timed better. */
const HEARTBEAT_SECONDS = 5

async function carryOut(base: Omit<RigContext, 'ask'>, source: StepSource): Promise<RunPlanResult> {
  await base.disk.makeFolder(base.journalFolder)
  const reading = await readJournalFolder(base.disk, base.journalFolder, base.planHash)
  for (const caution of reading.cautions) {
    base.terminal.say(`caution: ${caution}`)
    base.link.live.ended({ text: `caution: ${caution}`, outcome: null })
  }
  const state = newState(reading, (await base.machine.boot()) ?? SILENT)
  const context: RigContext = { ...base, ask: askerFor(state, base) }
  try {
    await settleLast(context, reading)
    // Before anything is done to the machine.
    if (stopAsked(context.rigFolder)) throw stopped()
    const raised = state.boot === SILENT ? await raiseInto(state, context, reading) : []
    await takeUpInto(state, context, source, reading, raised)
    await carryOutSteps(state, context, source, reading)
    sayWhatHolds(state, context)
    return await ended(context, { ...result(state, 'finished', null), cautions: reading.cautions })
  } catch (cause) {
    return await ended(context, { ...(await stop(state, context, cause)), cautions: reading.cautions })
  }
}

function sayWhatHolds(state: SessionState, { plan, terminal, link }: RigContext): void {
  for (const step of plan.steps ?? []) {
    if (step.kind !== 'ladder' || step.stepDown === undefined) continue
    const held = rungThatHolds(step, state)
    if (held === undefined) continue
    const text = held === null ? `${step.id}: nothing below the rung that failed held for ${counted(step.stepDown.repeats, 'run')}` : `${step.id}: "${held}" holds, ${counted(step.stepDown.repeats, 'run')} without a failure`
    terminal.say(text)
    link.live.ended({ text, outcome: null })
  }
}

/** A machine beside this one that doesn't answer is brought up by the plan's approved commands. */
async function raiseInto(state: SessionState, { machine }: RigContext, { journals, last }: FolderReading): Promise<readonly string[]> {
  const before = last?.bootId ?? SILENT
  const after = await machine.afterTrouble(before)
  const boot = after.kind === 'same' ? before : after.boot
  if (boot === null || boot === SILENT) throw silentMachine()
  state.boot = boot
  state.restarted = restartedSince(journals, boot)
  return after.kind === 'hung' ? after.told : []
}

const SILENT = ''

async function carryOutSteps(state: SessionState, context: RigContext, source: StepSource, reading: FolderReading): Promise<void> {
  for (let step = source.next(state); step !== null; step = source.next(state)) {
    context.signal.throwIfAborted()
    if (stopAsked(context.rigFolder)) throw stopped()
    count(state, context, source)
    if (step.kind === 'prompt') await carryOutPrompt(state, context, step)
    else if (await closeBarredInto(state, context, source, step)) continue
    else if (step.kind === 'change' || step.kind === 'adjust') await putInForceInto(state, context, source, step)
    else await carryOutRunStep(state, context, source, step)
  }
  count(state, context, source)
  const lastOpen = reading.journals.findLast(({ open }) => open !== null)?.open
  const [waits] = state.waiting
  if (waits !== undefined) await openLastJournalInto(state, context, lastOpen?.step ?? ('step' in waits ? waits.step : 'none'))
  await closeJournalInto(state, context, 'nothing is left to run')
}

async function carryOutRunStep(state: SessionState, context: RigContext, source: StepSource, step: RunStep): Promise<void> {
  const asked = step.adjust ?? step.change
  if (state.start?.change.id !== step.change.id || state.start.asked !== asked.tune) {
    await putInForceInto(state, context, source, asked)
    if (state.finished.has(step.id)) return
  }
  const { start } = state
  if (start === null) throw new RangeError(`a start must be open for step ${step.id}; got none`)
  if (start.tune !== context.plan.base) await mirror(context, start.writer)
  context.link.live.at({ id: step.id, kind: 'run', name: step.workload, tune: start.tune })
  const { line, outcome, after } = await carryOutRunInto(state, context, start, step, () => runsOf(source, state, asked))
  context.link.live.at(null)
  if (outcome !== 'scored' && outcome !== 'passed') context.link.live.ended({ text: line, outcome })
  if (CRASHES.has(outcome)) state.crashes.push({ tune: start.tune ?? start.asked, outcome, step: step.id })
  if (context.terminal.detail === 'steps') sayStep(state, context, source, line)
  if (after.kind === 'same') return
  // The machine under test went down and this program did not: the start is over.
  await closeJournalInto(state, context, after.kind === 'hung' ? WENT_DOWN.stoodStill : WENT_DOWN.restarted)
  if (after.boot === null) throw silentMachine()
  state.boot = after.boot
  state.restarted = true
  checkRestarts(context, await readJournalFolder(context.disk, context.journalFolder, context.planHash), after.boot)
}

async function carryOutPrompt(state: SessionState, context: RigContext, step: PromptStep): Promise<void> {
  context.link.live.at({ id: step.id, kind: 'prompt', name: step.text, tune: null })
  await context.ask({ kind: 'done', step: `step ${step.id}`, text: step.text })
  context.link.live.at(null)
  const done = { type: 'done', at: moment(context), step: step.id } as const
  if (state.writer === null) state.waiting.push(done)
  else await state.writer.writeSynced(done)
  state.finished.set(step.id, { by: 'done', outcome: null, seconds: null, workload: null })
}

function count(state: SessionState, { link }: RigContext, source: StepSource): void {
  const remaining = source.remaining(state)
  link.live.counted({ done: state.finished.size, left: remaining.length, minutesLeft: minutesLeft(remaining, state.finished, state.startSeconds) })
}

function sayStep(state: SessionState, context: RigContext, source: StepSource, line: string): void {
  const remaining = source.remaining(state)
  const minutes = minutesLeft(remaining, state.finished, state.startSeconds)
  const left = remaining.length === 0 ? '' : minutes === null ? '' : `  about ${minutesText(minutes)} left`
  context.terminal.say(`${state.finished.size} of ${state.finished.size + remaining.length}  ${line}${left}`)
}

async function ended({ link }: RigContext, session: RunPlanResult): Promise<RunPlanResult> {
  link.live.at(null)
  link.live.turned(session.outcome === 'finished' ? 'finished' : session.waitsForPower ? 'power-on' : 'stopped', session.message)
  // What it could not hand over goes with the next session.
  await link.close().catch(() => {})
  return session
}

/** After a failed journal nothing more is written anywhere; otherwise the open journal says why it ends. */
async function stop(state: SessionState, context: RigContext, cause: unknown): Promise<Ended> {
  const spoken = cause instanceof SpokenError ? cause : null
  const byPerson = context.signal.aborted && spoken === null
  const outcome = byPerson ? 'stopped by a person' : spoken === null ? undefined : STOPS[spoken.code]
  const leaves = outcome === 'journal failed' || outcome === 'disk full' || outcome === undefined || state.writer?.failed.aborted === true
  if (leaves) {
    await state.writer?.abandon()
    if (outcome === undefined) throw cause
    return result(state, outcome, spoken)
  }
  const message = spoken?.sentence ?? 'stopped by a person'
  try {
    await closeJournalInto(state, context, message)
  } catch (failure) {
    await state.writer?.abandon()
    return result(state, 'journal failed', failure instanceof SpokenError ? failure : new SpokenError({ code: 'journal-failed', message: String(failure) }))
  }
  return { ...result(state, outcome, spoken), message }
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
  'past-ceiling': 'not approved',
  'ceilings-unreadable': 'not approved',
  'stop-asked': 'stopped by a person',
  'too-many-restarts': 'too many restarts',
  'machine-silent': 'machine silent',
}

function result(state: SessionState, outcome: RunPlanOutcome, why: SpokenError | null): Ended {
  return { journals: state.journals, finished: [...state.finished.keys()], skipped: state.skipped, ends: endsOf(state), outcome, message: why?.sentence ?? null, waitsForPower: why?.code === 'power-on-needed' }
}

function endsOf({ finished }: SessionState): readonly RunEnds[] {
  const outcomes = [...finished.values()].flatMap(({ by, outcome }) => (by === 'done' || outcome === null ? [] : [outcome]))
  return [...Map.groupBy(outcomes, (outcome) => outcome)].map(([outcome, all]) => ({ outcome, runs: all.length }))
}
