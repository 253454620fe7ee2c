// Opens a start: a new journal, the tune put in force, read back, and said.
import { SpokenError, counted, type JournalBodyOf, type Known, type PlanTune } from '@guardband/model'
import { limitsOf } from './barred.ts'
import { handQuestion, sheetLines, sheetOf } from './change-sheet.ts'
import { puttingNote } from './journal-folder.ts'
import { openJournal, type JournalWriter } from './journal-writer.ts'
import { askPowerOn, powerOnSeen, useUpPowerOn } from './power-on.ts'
import { readBack, type GateResult } from './read-back.ts'
import { clip, execute, moment, type RigContext, type SessionState } from './rig-context.ts'
import { kindAfterRestart, type StartKind } from './start-kind.ts'
import { readTraining } from './training.ts'
import type { AdjustStep, RunStep, StartStep } from './step-source.ts'

export interface StartOrder {
  readonly change: StartStep
  /** The change's own, or that of the live change that the runs left hang on. */
  readonly tune: string
  /** The live change that is carried out with this start, since no start was open for it. */
  readonly adjust?: string
  /** That hang on this tune and are yet to come: closed with it when it is not in force. */
  readonly runs: readonly RunStep[]
}

export async function openStartInto(state: SessionState, context: RigContext, { change, tune: asked, adjust, runs }: StartOrder): Promise<void> {
  await closeJournalInto(state, context, 'the next start begins')
  const tune = tuneOf(context, asked)
  context.ceilings(tune)
  const powerOn = { ...context.sources, bootId: state.boot, rigFolder: context.rigFolder }
  const seen = change.start !== 'live' && powerOnSeen(change, powerOn)
  const poweredOn = change.start !== 'live' && (seen || (await powerInto(state, context, tune, change)))
  context.link.live.at({ id: change.id, kind: 'change', name: asked, tune: asked })
  const kind: StartKind = seen || (!poweredOn && state.restarted) ? await kindAfterRestart(context, change) : { how: change.start, message: null }
  if (seen) useUpPowerOn(powerOn)
  const begun = context.sources.monotonic()
  const writer = await openNextJournalInto(state, context, change.planStep)
  if (!poweredOn) await writer.writeSynced({ type: 'note', at: moment(context), text: puttingNote(adjust ?? change.id) })
  await mirror(context, writer)
  // What holds from a power-on is not put in force again after it: that would make it a live start.
  const applied = poweredOn ? null : await applyTune(context, tune, change.id)
  const training = kind.how === 'live' ? null : await readTraining(context)
  const gate: GateResult = applied === null ? await readBack(context, tune, training) : { tune: null, known: 'unverified', observed: [], message: applied }
  const inForceId = context.sources.newId()
  const at = moment(context)
  const { conditions, remarks: differences } = context.conditions()
  const remarks = [gate.message, training?.message ?? null, kind.message, ...differences].filter((remark) => remark !== null)
  const notRun = gate.tune === null ? runs : []
  await writer.writeSynced(
    { type: 'start', at, tune: asked, how: kind.how, result: gate.tune === null ? 'fallback start' : 'started', ...(training === null ? {} : { training: training.training }), conditions, ...(remarks.length === 0 ? {} : { message: clip(remarks.join('; ')) }) },
    ...inForceRecords({ inForceId, at, gate, applied, done: [change.id, ...(adjust === undefined ? [] : [adjust])], notRun }),
  )
  finishInto(state, { done: [change.id, ...(adjust === undefined ? [] : [adjust])], notRun })
  noteClock(context, writer)
  state.restarted = false
  state.start = { change, asked, inForceId, writer, tune: gate.tune, gate, order: 0 }
  state.startSeconds.push(context.sources.monotonic() - begun)
  sayInForce(context, `start ${state.startOrder}  ${change.id}`, { asked, gate, notRun: notRun.length })
  if (kind.message !== null) context.terminal.say(`    ${kind.message}`)
}

/** Once a start, unsynced: it orders nothing. */
function noteClock(context: RigContext, writer: JournalWriter): void {
  const clock = context.link.clock()
  // A failure shows in `writer.failed` at the next synced record.
  if (clock !== null) void writer.write({ type: 'clock', at: moment(context), ...clock }).catch(() => {})
}

/** A live change splits the start: what runs after it belongs to another stretch in force. */
export async function adjustInto(state: SessionState, context: RigContext, step: AdjustStep, runs: readonly RunStep[]): Promise<void> {
  const { start } = state
  if (start === null) throw new RangeError(`a start must be open for step ${step.id}; got none`)
  const { writer } = start
  const tune = tuneOf(context, step.tune)
  context.ceilings(tune)
  context.link.live.at({ id: step.id, kind: 'adjust', name: step.tune, tune: step.tune })
  await writer.reserve()
  // From here on what was read before holds no more, whatever becomes of this.
  await writer.writeSynced({ type: 'note', at: moment(context), text: puttingNote(step.id) })
  await mirror(context, writer)
  const applied = await applyTune(context, tune, step.id)
  const gate: GateResult = applied === null ? await readBack(context, tune) : { tune: null, known: 'unverified', observed: [], message: applied }
  const inForceId = context.sources.newId()
  const notRun = gate.tune === null ? runs : []
  await writer.writeSynced(...inForceRecords({ inForceId, at: moment(context), gate, applied, done: [step.id], notRun }))
  finishInto(state, { done: [step.id], notRun })
  start.asked = step.tune
  start.inForceId = inForceId
  start.tune = gate.tune
  start.gate = gate
  sayInForce(context, `within start ${state.startOrder}  ${step.id}`, { asked: step.tune, gate, notRun: notRun.length })
}

/** Before a riskier step a second place gets what the journal holds: a right checksum over wrong bytes proves nothing about a machine with bad memory. */
export async function mirror({ link, terminal }: RigContext, { path }: JournalWriter): Promise<void> {
  try {
    await link.mirror(path)
  } catch (cause) {
    terminal.say(`caution: the journal could not be mirrored (${cause instanceof Error ? cause.message : String(cause)})`)
  }
}

interface Closing {
  readonly done: readonly string[]
  readonly notRun: readonly RunStep[]
}

function inForceRecords({ inForceId, at, gate, applied, done, notRun }: Closing & { readonly inForceId: string; readonly at: string; readonly gate: GateResult; readonly applied: string | null }): readonly JournalBodyOf<'in force' | 'done'>[] {
  const why = applied !== null ? 'the tune was not put in force' : gate.known === 'read back' ? 'read-back did not match' : 'a person says that the tune is not in force'
  return [
    { type: 'in force', at, inForceId, tune: gate.tune, known: gate.known, observed: [...gate.observed] },
    ...done.map((step): JournalBodyOf<'done'> => ({ type: 'done', at, step, ...(gate.message === null ? {} : { message: clip(gate.message) }) })),
    ...notRun.map(({ id }): JournalBodyOf<'done'> => ({ type: 'done', at, step: id, message: clip(`not run: ${why}`) })),
  ]
}

function finishInto(state: SessionState, { done, notRun }: Closing): void {
  for (const id of [...done, ...notRun.map((run) => run.id)]) state.finished.set(id, { by: 'done', outcome: null, seconds: null, workload: null })
  state.skipped.push(...notRun.map(({ id }) => id))
}

/** Brings the machine up for this start; the tune is set before. Stops where only a person can. */
async function powerInto(state: SessionState, context: RigContext, tune: PlanTune, change: StartStep): Promise<true> {
  const { power } = context.machine
  if (power === undefined || !power.can(change.start)) return stopForPowerOn(state, context, tune, change)
  const writer = await openNextJournalInto(state, context, change.planStep)
  await writer.writeSynced({ type: 'note', at: moment(context), text: puttingNote(change.id) })
  await mirror(context, writer)
  const fault = await applyTune(context, tune, change.id)
  await closeJournalInto(state, context, fault ?? `the tune "${tune.name}" has been set; the machine is powered off and on for ${change.id}`)
  if (fault !== null) throw new SpokenError({ code: 'person-needed', place: `step ${change.id}`, message: `${fault}.`, mend: 'See to that command, then run the plan again.' })
  const boot = await power.up(change.start, state.boot)
  if (boot === null) throw silentMachine()
  state.boot = boot
  return true
}

export function silentMachine(): SpokenError {
  return new SpokenError({ code: 'machine-silent', message: 'the machine under test does not answer, and nothing that the plan may do brought it back.', mend: 'See to it; running the plan again takes it up where it is.' })
}

/**
 * The machine restarted while this tune was being put in force: that is a start that did not come about, and a result. After the second time the
 * tune is not tried again, and its runs are closed with it: a machine left alone would go down for ever. A ladder's rung is given up the first time.
 */
export async function bookNoStartInto(state: SessionState, context: RigContext, { change, asked, runs, journal, times }: NoStart): Promise<void> {
  const writer = await openNextJournalInto(state, context, change.planStep)
  const at = moment(context)
  const message = clip(`the machine restarted while the tune was put in force (journal ${journal})`)
  const before = state.crashes.filter(({ tune }) => tune === asked.tune).length
  const mostTimes = change.id === change.planStep ? limitsOf(context.plan).crashesPerTune : MOST_TIMES_ON_A_LADDER
  const givenUp = Math.max(times, before + 1) < mostTimes ? [] : [asked.id, ...runs.map(({ id }) => id)]
  await writer.writeSynced(
    { type: 'start', at, tune: asked.tune, how: asked.kind === 'adjust' ? 'live' : change.start, result: 'no start', conditions: context.conditions().conditions, message },
    { type: 'in force', at, inForceId: context.sources.newId(), tune: null, known: 'unverified', observed: [] },
    ...givenUp.map((step): JournalBodyOf<'done'> => ({ type: 'done', at, step, message: clip(`${step === asked.id ? 'given up' : 'not run'}: ${message}, ${counted(times, 'time')}`) })),
  )
  for (const id of givenUp) state.finished.set(id, { by: 'done', outcome: 'no start', seconds: null, workload: null })
  if (givenUp.length > 0) state.skipped.push(...runs.map(({ id }) => id))
  const next = givenUp.length === 0 ? 'It is tried once more.' : `${counted(times, 'time')} now: it is not tried again; ${runs.length} of its runs are not run.`
  state.crashes.push({ tune: asked.tune, outcome: 'no start', step: asked.id })
  const text = `${asked.id}  tune "${asked.tune}"  no start: ${message}. ${next}`
  context.terminal.say(text)
  context.link.live.ended({ text, outcome: 'no start' })
  await closeJournalInto(state, context, 'the start did not come about')
}

export interface NoStart {
  readonly change: StartStep
  /** What was being put in force: the change itself, or a live change within its start. */
  readonly asked: StartStep | AdjustStep
  /** That hang on it, yet to come. */
  readonly runs: readonly RunStep[]
  /** The journal that ends while the tune was put in force. */
  readonly journal: string
  /** How often the machine went down so in this step. */
  readonly times: number
}

/** It would climb on once the second try went well, and nothing goes further from base after a crash. */
const MOST_TIMES_ON_A_LADDER = 1

/** A journal that carries only what waits: nothing is left of the plan, but a step in flight must be closed. */
export async function openLastJournalInto(state: SessionState, context: RigContext, planStep: string): Promise<void> {
  await closeJournalInto(state, context, 'nothing is left to run')
  await openNextJournalInto(state, context, planStep)
}

export async function closeJournalInto(state: SessionState, context: RigContext, reason: string): Promise<void> {
  const { writer } = state
  if (writer === null) return
  await writer.close({ type: 'close', at: moment(context), reason: clip(reason) })
  state.previous = { journal: writer.journal, lastHash: writer.lastHash() }
  state.writer = null
  state.start = null
}

async function openNextJournalInto(state: SessionState, context: RigContext, planStep: string): Promise<JournalWriter> {
  const { plan, planHash, sources, disk, journalFolder } = context
  const writer = await openJournal({
    disk,
    folder: journalFolder,
    open: {
      type: 'open',
      at: moment(context),
      format: 1,
      journal: sources.newId(),
      program: PROGRAM,
      planHash,
      plan,
      step: planStep,
      startId: sources.newId(),
      startOrder: state.startOrder,
      previous: state.previous,
      bootId: state.boot,
    },
    first: state.waiting,
  })
  state.waiting.length = 0
  state.startOrder += 1
  state.writer = writer
  state.journals.push(writer.path)
  context.link.live.journal(writer.journal)
  return writer
}

/** Null when it went well, otherwise why the tune is not in force. */
async function applyTune(context: RigContext, tune: PlanTune, step: string): Promise<string | null> {
  const { apply } = tune
  if (apply === undefined) {
    await context.ask(await handQuestion(context, tune, `step ${step}`))
    return null
  }
  const end = await execute(context, apply, context.signal)
  context.signal.throwIfAborted()
  if (end.how === 'ended' && end.exitStatus === 0) return null
  const why = end.errorOutput.text.trim().split('\n').at(-1) ?? ''
  const how = end.how === 'time limit' ? `was ended after its time limit of ${apply.timeLimitSeconds} s` : end.how === 'not started' ? `did not start (${end.message ?? ''})` : `ended with ${end.exitStatus === null ? `signal ${end.signal ?? 'unknown'}` : `status ${end.exitStatus}`}`
  return `the command that puts the tune in force ${how}${why === '' ? '' : `: ${why}`}`
}

/** What is set before the power-on stands in a journal of its own, which holds no start (rule 15). */
async function stopForPowerOn(state: SessionState, context: RigContext, tune: PlanTune, change: StartStep): Promise<never> {
  if (tune.apply !== undefined) {
    const writer = await openNextJournalInto(state, context, change.planStep)
    await writer.writeSynced({ type: 'note', at: moment(context), text: puttingNote(change.id) })
    await mirror(context, writer)
    const fault = await applyTune(context, tune, change.id)
    await closeJournalInto(state, context, fault ?? `the tune "${tune.name}" has been set; the ${change.start} start of ${change.id} is waited for`)
    if (fault !== null) throw new SpokenError({ code: 'person-needed', place: `step ${change.id}`, message: `${fault}.`, mend: 'See to that command, then run the plan again.' })
  }
  if (tune.apply === undefined) for (const line of sheetLines(await sheetOf(context, tune))) context.terminal.say(line)
  return askPowerOn(change, tune.apply !== undefined, { ...context.sources, bootId: state.boot, rigFolder: context.rigFolder })
}

function tuneOf({ plan }: RigContext, name: string): PlanTune {
  const tune = plan.tunes.find((tune) => tune.name === name)
  if (tune === undefined) throw new SpokenError({ code: 'plan-unknown-name', message: `there is no tune "${name}" in this plan.` })
  return tune
}

function sayInForce({ terminal, link }: RigContext, place: string, { asked, gate, notRun }: { readonly asked: string; readonly gate: GateResult; readonly notRun: number }): void {
  const known = gate.tune === null ? `not in force: ${gate.message ?? ''}` : IN_FORCE[gate.known]
  const text = `${place}  tune "${asked}"  ${known}${notRun === 0 ? '' : `; ${notRun} of its runs are not run`}`
  terminal.say(text)
  if (gate.tune === null) link.live.ended({ text, outcome: 'fallback start' })
}

const IN_FORCE: Readonly<Record<Known, string>> = {
  'read back': 'in force, read back',
  measured: 'in force, measured',
  'seen by a person': 'in force, seen by a person',
  unverified: 'in force unverified: the plan names nothing to read back',
}

const PROGRAM = 'guardband rig 0.1.0'
