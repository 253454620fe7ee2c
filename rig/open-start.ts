// Opens a start: a new journal, the tune put in force, read back, and said.
import { SpokenError, counted, type JournalBodyOf, type Known, type PlanTune } from '@guardband/model'
import { puttingNote } from './journal-folder.ts'
import { openJournal, type JournalWriter } from './journal-writer.ts'
import { askPowerOn, powerOnSeen, useUpPowerOn } from './power-on.ts'
import { readBack, type GateResult } from './read-back.ts'
import { askPerson, clip, execute, moment, type RigContext, type SessionState } from './rig-context.ts'
import { kindAfterRestart, type StartKind } from './start-kind.ts'
import type { RunStep, StartStep } from './step-source.ts'

/** The runs that belong to this start and are yet to come are passed in: they are closed with it when its tune is not in force. */
export async function openStartInto(state: SessionState, context: RigContext, change: StartStep, runs: readonly RunStep[]): Promise<void> {
  await closeJournalInto(state, context, 'the next start begins')
  const tune = tuneOf(context, change.tune)
  const powerOn = { ...context.sources, rigFolder: context.rigFolder }
  const poweredOn = change.start !== 'live' && powerOnSeen(change, powerOn)
  if (change.start !== 'live' && !poweredOn) await stopForPowerOn(state, context, tune, change)
  const kind: StartKind = poweredOn || state.restarted ? await kindAfterRestart(context, change) : { how: change.start, message: null }
  if (poweredOn) useUpPowerOn(powerOn)
  const begun = context.sources.monotonic()
  const writer = await openNextJournalInto(state, context, change.planStep)
  if (!poweredOn) await writer.writeSynced({ type: 'note', at: moment(context), text: puttingNote(change.id) })
  // What holds from a power-on is not put in force again after it: that would make it a live start.
  const applied = poweredOn ? null : await applyTune(context, tune, change)
  const gate: GateResult = applied === null ? await readBack(context, tune) : { tune: null, known: 'unverified', observed: [], message: applied }
  const inForceId = context.sources.newId()
  const at = moment(context)
  const message = gate.message === null ? {} : { message: clip(gate.message) }
  const remarks = [gate.message, kind.message].filter((remark) => remark !== null)
  const notRun = gate.tune === null ? runs : []
  await writer.writeSynced(
    { type: 'start', at, tune: change.tune, how: kind.how, result: gate.tune === null ? 'fallback start' : 'started', conditions: context.plan.conditions, ...(remarks.length === 0 ? {} : { message: clip(remarks.join('; ')) }) },
    { type: 'in force', at, inForceId, tune: gate.tune, known: gate.known, observed: [...gate.observed] },
    { type: 'done', at, step: change.id, ...message },
    ...notRun.map(({ id }): JournalBodyOf<'done'> => ({ type: 'done', at, step: id, message: clip(`not run: ${applied !== null ? 'the tune was not put in force' : gate.known === 'read back' ? 'read-back did not match' : 'a person says that the tune is not in force'}`) })),
  )
  for (const id of [change.id, ...notRun.map((run) => run.id)]) state.finished.set(id, { by: 'done', outcome: null, seconds: null, workload: null })
  state.skipped.push(...notRun.map(({ id }) => id))
  state.restarted = false
  state.start = { change, inForceId, writer, tune: gate.tune, order: 0 }
  state.startSeconds.push(context.sources.monotonic() - begun)
  sayStart(context, state, change, gate, notRun.length)
  if (kind.message !== null) context.terminal.say(`    ${kind.message}`)
}

/**
 * The machine restarted while this tune was being put in force: that is a start that did not come about, and a result. After the second time the
 * tune is not tried again, and its runs are closed with it: a machine left alone would go down for ever. A ladder's rung is given up the first time.
 */
export async function bookNoStartInto(state: SessionState, context: RigContext, { change, runs, journal, times }: NoStart): Promise<void> {
  const writer = await openNextJournalInto(state, context, change.planStep)
  const at = moment(context)
  const message = clip(`the machine restarted while the tune was put in force (journal ${journal})`)
  const mostTimes = change.id === change.planStep ? MOST_TIMES : MOST_TIMES_ON_A_LADDER
  const givenUp = times < mostTimes ? [] : [change.id, ...runs.map(({ id }) => id)]
  await writer.writeSynced(
    { type: 'start', at, tune: change.tune, how: change.start, result: 'no start', conditions: context.plan.conditions, message },
    { type: 'in force', at, inForceId: context.sources.newId(), tune: null, known: 'unverified', observed: [] },
    ...givenUp.map((step): JournalBodyOf<'done'> => ({ type: 'done', at, step, message: clip(`${step === change.id ? 'given up' : 'not run'}: ${message}, ${counted(times, 'time')}`) })),
  )
  for (const id of givenUp) state.finished.set(id, { by: 'done', outcome: 'no start', seconds: null, workload: null })
  if (givenUp.length > 0) state.skipped.push(...runs.map(({ id }) => id))
  const next = givenUp.length === 0 ? 'It is tried once more.' : `${counted(times, 'time')} now: it is not tried again; ${runs.length} of its runs are not run.`
  context.terminal.say(`${change.id}  tune "${change.tune}"  no start: ${message}. ${next}`)
  await closeJournalInto(state, context, 'the start did not come about')
}

export interface NoStart {
  readonly change: StartStep
  /** Of this start, yet to come. */
  readonly runs: readonly RunStep[]
  /** The journal that ends while the tune was put in force. */
  readonly journal: string
  /** How often the machine went down so in this step. */
  readonly times: number
}

/** Once may be a power cut; twice at the same tune is the tune. */
const MOST_TIMES = 2

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
      bootId: sources.bootId,
    },
    first: state.waiting,
  })
  state.waiting.length = 0
  state.startOrder += 1
  state.writer = writer
  state.journals.push(writer.path)
  return writer
}

/** Null when it went well, otherwise why the tune is not in force. */
async function applyTune(context: RigContext, { name, apply }: PlanTune, change: StartStep): Promise<string | null> {
  if (apply === undefined) {
    await askPerson(context, `Put the tune "${name}" in force.`, `step ${change.id}`)
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
    const fault = await applyTune(context, tune, change)
    await closeJournalInto(state, context, fault ?? `the tune "${tune.name}" has been set; the ${change.start} start of ${change.id} is waited for`)
    if (fault !== null) throw new SpokenError({ code: 'person-needed', place: `step ${change.id}`, message: `${fault}.`, mend: 'See to that command, then run the plan again.' })
  }
  return askPowerOn(change, tune.apply !== undefined, { ...context.sources, rigFolder: context.rigFolder })
}

function tuneOf({ plan }: RigContext, name: string): PlanTune {
  const tune = plan.tunes.find((tune) => tune.name === name)
  if (tune === undefined) throw new SpokenError({ code: 'plan-unknown-name', message: `there is no tune "${name}" in this plan.` })
  return tune
}

function sayStart({ terminal }: RigContext, state: SessionState, change: StartStep, gate: GateResult, notRun: number): void {
  const known = gate.tune === null ? `not in force: ${gate.message ?? ''}` : IN_FORCE[gate.known]
  terminal.say(`start ${state.startOrder}  ${change.id}  tune "${change.tune}"  ${known}${notRun === 0 ? '' : `; ${notRun} of its runs are not run`}`)
}

const IN_FORCE: Readonly<Record<Known, string>> = {
  'read back': 'in force, read back',
  measured: 'in force, measured',
  'seen by a person': 'in force, seen by a person',
  unverified: 'in force unverified: the plan names nothing to read back',
}

const PROGRAM = 'guardband rig 0.1.0'
