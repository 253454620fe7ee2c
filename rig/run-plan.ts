// Carries out a plan: takes up what earlier sessions left, asks its source for steps, and journals each, until nothing is left or something stops it.
import { SpokenError, minutesText, planHash, type JournalBodyOf, type Outcome, type Plan } from '@guardband/model'
import { join, resolve } from 'node:path'
import type { ApprovalCheck } from './approval-store.ts'
import { askerFor } from './ask.ts'
import { barOf } from './barred.ts'
import { carryOutRunInto } from './carry-out-run.ts'
import { createCeilingCheck, type CeilingCheck } from './ceilings.ts'
import { planConditions, type ReadConditions } from './conditions.ts'
import { CRASHES } from './crashes.ts'
import { lockFolder } from './folder-lock.ts'
import type { JournalDisk } from './journal-disk.ts'
import { readJournalFolder, type FolderReading } from './journal-folder.ts'
import { noLink, type Link } from './link.ts'
import { ownMachine, type Machine } from './machine.ts'
import { adjustInto, closeJournalInto, mirror, openLastJournalInto, openStartInto, silentMachine } from './open-start.ts'
import { createPatternFinder, type PatternFinder } from './pattern-finder.ts'
import { nobody, peopleAtTerminal, type People } from './people.ts'
import { createPlanSource } from './plan-source.ts'
import { readValue } from './reading.ts'
import { createRemoteMachine } from './remote-machine.ts'
import { clip, execute, moment, type RigContext, type RigSources, type SessionState } from './rig-context.ts'
import { runsOf } from './runs-of.ts'
import type { AdjustStep, PromptStep, RunStep, StartStep, StepSource } from './step-source.ts'
import { forgetStop, stopAsked } from './stop-request.ts'
import { newState, settleLast, stopped, takeUpInto } from './take-up.ts'
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
}

export interface RunEnds {
  readonly outcome: Outcome
  readonly runs: number
}

/** Never carries out a finished run again and never drops one. Throws SpokenError where it can't begin: folder busy, another plan's folder. */
export async function runPlan(order: RunPlanOrder): Promise<RunPlanResult> {
  const { plan, rigFolder, sources } = order
  const source = order.source ?? createPlanSource(plan)
  const unattended = order.attendance === 'unattended'
  const release = lockFolder(rigFolder, sources)
  const patterns = createPatternFinder()
  try {
    // Only a person at the rig takes such a wish back.
    if (!unattended) forgetStop(rigFolder)
    return await carryOut(
      {
        ...order,
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
  for (const caution of reading.cautions) base.terminal.say(`caution: ${caution}`)
  const state = newState(reading, (await base.machine.boot()) ?? SILENT)
  const context: RigContext = { ...base, ask: askerFor(state, base) }
  try {
    await settleLast(context, reading)
    if (state.boot === SILENT) await raiseInto(state, context, reading.last?.bootId ?? SILENT)
    await takeUpInto(state, context, source, reading)
    await carryOutSteps(state, context, source, reading)
    return ended(context, result(state, 'finished', null))
  } catch (cause) {
    return ended(context, await stop(state, context, cause))
  }
}

/** A machine beside this one that doesn't answer is brought up by the plan's approved commands. */
async function raiseInto(state: SessionState, { machine }: RigContext, before: string): Promise<void> {
  const after = await machine.afterTrouble(before)
  const boot = after.kind === 'same' ? before : after.boot
  if (boot === null || boot === SILENT) throw silentMachine()
  state.boot = boot
}

const SILENT = ''

async function carryOutSteps(state: SessionState, context: RigContext, source: StepSource, reading: FolderReading): Promise<void> {
  for (let step = source.next(state); step !== null; step = source.next(state)) {
    context.signal.throwIfAborted()
    if (stopAsked(context.rigFolder)) throw stopped()
    count(state, context, source)
    if (step.kind === 'prompt') await carryOutPrompt(state, context, step)
    else if (await closeBarredInto(state, context, source, step)) continue
    else if (step.kind === 'change') await openStartInto(state, context, { change: step, tune: step.tune, runs: runsOf(source, state, step) })
    else if (step.kind === 'adjust') await carryOutAdjust(state, context, source, step)
    else await carryOutRunStep(state, context, source, step)
  }
  count(state, context, source)
  const lastOpen = reading.journals.findLast(({ open }) => open !== null)?.open
  const [waits] = state.waiting
  if (waits !== undefined) await openLastJournalInto(state, context, lastOpen?.step ?? ('step' in waits ? waits.step : 'none'))
  await closeJournalInto(state, context, 'nothing is left to run')
}

/** True where its tune is not to be put in force any more: it and what hangs on it are closed without being carried out. */
async function closeBarredInto(state: SessionState, context: RigContext, source: StepSource, step: StartStep | AdjustStep | RunStep): Promise<boolean> {
  const asked = step.kind === 'run' ? (step.adjust ?? step.change) : step
  const bar = barOf(context.plan, asked.tune, state.crashes)
  if (bar === null || state.letPass.has(asked.tune)) return false
  if (bar.kind === 'further' && context.terminal.interactive) {
    const { answer } = await context.ask({ kind: 'choice', step: step.id, text: `Shall "${asked.tune}" run all the same? ${capital(bar.why)}.`, words: ['yes', 'no'] })
    if (answer === 'yes') {
      state.letPass.add(asked.tune)
      return false
    }
  }
  const closed = [...(step.kind === 'run' ? [] : [step.id]), ...runsOf(source, state, asked).map(({ id }) => id)]
  const at = moment(context)
  const records = closed.map((id): JournalBodyOf<'done'> => ({ type: 'done', at, step: id, message: clip(`not run: ${bar.why}`) }))
  if (state.writer === null) state.waiting.push(...records)
  else await state.writer.writeSynced(...records)
  for (const id of closed) state.finished.set(id, { by: 'done', outcome: null, seconds: null, workload: null })
  state.skipped.push(...closed.filter((id) => id !== asked.id))
  context.terminal.say(`${step.id}  tune "${asked.tune}"  not run: ${bar.why}`)
  context.link.live.ended({ text: `${step.id}: tune "${asked.tune}" is not run: ${bar.why}`, outcome: null })
  return true
}

async function carryOutAdjust(state: SessionState, context: RigContext, source: StepSource, step: AdjustStep): Promise<void> {
  const runs = runsOf(source, state, step)
  if (state.start?.change.id === step.change.id) await adjustInto(state, context, step, runs)
  else await openStartInto(state, context, { change: step.change, tune: step.tune, adjust: step.id, runs })
}

async function carryOutRunStep(state: SessionState, context: RigContext, source: StepSource, step: RunStep): Promise<void> {
  const asked = step.adjust ?? step.change
  if (state.start?.change.id !== step.change.id || state.start.asked !== asked.tune) {
    await openStartInto(state, context, { change: step.change, tune: asked.tune, runs: runsOf(source, state, asked) })
    if (state.finished.has(step.id)) return
  }
  const { start } = state
  if (start === null) throw new RangeError(`a start must be open for step ${step.id}; got none`)
  if (start.tune !== context.plan.base) await mirror(context, start.writer)
  context.link.live.at({ id: step.id, kind: 'run', name: step.workload, tune: start.tune })
  const { line, outcome, after } = await carryOutRunInto(state, context, start, step)
  context.link.live.at(null)
  if (outcome !== 'scored' && outcome !== 'passed') context.link.live.ended({ text: line, outcome })
  if (CRASHES.has(outcome)) state.crashes.push({ tune: start.tune ?? start.asked, outcome, step: step.id })
  if (context.terminal.detail === 'steps') sayStep(state, context, source, line)
  if (after.kind === 'same') return
  // The machine under test went down and this program did not: the start is over.
  await closeJournalInto(state, context, after.kind === 'hung' ? 'the machine under test stood still' : 'the machine under test restarted')
  if (after.boot === null) throw silentMachine()
  state.boot = after.boot
  state.restarted = true
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

function capital(text: string): string {
  return `${text.slice(0, 1).toUpperCase()}${text.slice(1)}`
}

async function ended({ link }: RigContext, session: RunPlanResult): Promise<RunPlanResult> {
  link.live.at(null)
  link.live.turned(session.outcome === 'finished' ? 'finished' : session.waitsForPower ? 'power-on' : 'stopped', session.message)
  await link.close()
  return session
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

function result(state: SessionState, outcome: RunPlanOutcome, why: SpokenError | null): RunPlanResult {
  return { journals: state.journals, finished: [...state.finished.keys()], skipped: state.skipped, ends: endsOf(state), outcome, message: why?.sentence ?? null, waitsForPower: why?.code === 'power-on-needed' }
}

function endsOf({ finished }: SessionState): readonly RunEnds[] {
  const outcomes = [...finished.values()].flatMap(({ by, outcome }) => (by === 'done' || outcome === null ? [] : [outcome]))
  return [...Map.groupBy(outcomes, (outcome) => outcome)].map(([outcome, all]) => ({ outcome, runs: all.length }))
}
