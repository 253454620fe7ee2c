// Carries out one run in the open start: begin on disk, the workload's driver, what is kept of it, end on disk.
import { COMPARABLE_OUTCOMES, NEUTRAL_OUTCOMES, SpokenError, counted, fixed, type JournalBodyOf, type Outcome, type PlanWorkload } from '@guardband/model'
import type { DriverEnd } from './driver.ts'
import { driverOf } from './driver-of.ts'
import { isFinishing } from './journal-folder.ts'
import { keepFilesOf } from './kept-files.ts'
import type { MachineAfter } from './machine.ts'
import { groupNote } from './process-group.ts'
import { clip, moment, type OpenedStart, type RigContext, type SessionState } from './rig-context.ts'
import { readSelfReport, type SelfReport } from './self-report.ts'
import type { RunStep } from './step-source.ts'

/**
 * Returns once the end is acknowledged. Throws when the journal fails, when space runs out, where the workload can't be carried out here, or where whoever was asked in the middle of it has gone. `hangOn` tells
 * the runs yet to come that hang on the same tune: where this one reports that the tune is not in force, they are closed with it.
 */
export async function carryOutRunInto(state: SessionState, context: RigContext, start: OpenedStart, step: RunStep, hangOn: () => readonly RunStep[]): Promise<RunEnd> {
  const { writer, inForceId } = start
  const { sources } = context
  const driver = driverOf({ context, workload: workloadOf(context, step.workload), step: step.id })
  await writer.reserve()
  const prepared = await driver.prepare()
  const runId = sources.newId()
  await writer.writeSynced({ type: 'begin', at: moment(context), step: step.id, runId, inForceId, workload: step.workload, order: start.order })
  start.order += 1

  const begun = sources.monotonic()
  const beat = () => {
    // A failure shows in `writer.failed`, which ends the run.
    void writer.write({ type: 'heartbeat', at: moment(context), step: step.id, elapsed: Math.max(0, sources.monotonic() - begun) }).catch(() => {})
  }
  const heartbeats = setInterval(beat, context.heartbeatSeconds * 1000)
  const end = await prepared
    .carryOut(AbortSignal.any([context.signal, writer.failed]), {
      onGroup: (pid) => void writer.write({ type: 'note', at: moment(context), text: groupNote(pid) }).catch(() => {}),
    })
    .finally(() => clearInterval(heartbeats))
  writer.failed.throwIfAborted()

  const after: MachineAfter = WELL.has(end.outcome) ? { kind: 'same' } : await context.machine.afterTrouble(state.boot)
  const report = await readSelfReport({ context, gate: start.gate, workload: step.workload, end })
  const { outcome, message: told } = withReport(withMachine(end, after), report)
  const kept = await keepFilesOf(context, end, outcome)
  const message = joined(told, kept.fault)
  const notRun = report.kind === 'contradicts' ? hangOn().filter(({ id }) => id !== step.id) : []
  const at = moment(context)
  await writer.writeSynced(
    // Before the end, so that no cut can leave the run booked under a tune that it contradicts. Of the same id: it holds of the runs before this one too (rule 28).
    ...(report.kind === 'nothing' ? [] : [inForce(at, inForceId, report)]),
    {
      type: 'end',
      at,
      step: step.id,
      runId,
      outcome,
      measures: [...end.measures],
      seconds: end.seconds,
      exitStatus: end.exitStatus,
      signal: end.signal,
      ...(message === null ? {} : { message: clip(message) }),
      ...(end.exposure === undefined ? {} : { exposure: end.exposure }),
      ...(end.phase === undefined ? {} : { phase: end.phase }),
      ...(end.place === undefined ? {} : { place: end.place }),
      ...(kept.files.length === 0 ? {} : { kept: [...kept.files] }),
    },
    ...notRun.map(({ id }): JournalBodyOf<'done'> => ({ type: 'done', at, step: id, message: clip(`not run: ${told ?? ''}`) })),
  )
  if (isFinishing(outcome)) state.finished.set(step.id, { by: 'end', outcome, seconds: end.seconds, workload: step.workload })
  for (const { id } of notRun) state.finished.set(id, { by: 'done', outcome: null, seconds: null, workload: null })
  state.skipped.push(...notRun.map(({ id }) => id))
  if (report.kind !== 'nothing') {
    start.gate = report.gate
    start.tune = report.gate.tune
  }
  if (end.stop !== undefined) throw end.stop
  const rest = notRun.length === 0 ? '' : `; ${counted(notRun.length, 'run')} of this tune ${notRun.length === 1 ? 'is' : 'are'} not run`
  return { line: `${step.id}  ${step.workload}  ${outcome}  ${fixed(end.seconds, 2)} s${message === null ? '' : `  (${message})`}${rest}`, outcome, after }
}

export interface RunEnd {
  /** What to say of it. */
  readonly line: string
  readonly outcome: Outcome
  /** What became of the machine under test meanwhile. */
  readonly after: MachineAfter
}

/** Neither a failure nor a sign that the machine is in trouble. */
const WELL: ReadonlySet<Outcome> = new Set<Outcome>([...COMPARABLE_OUTCOMES, ...NEUTRAL_OUTCOMES])

type Told = Pick<DriverEnd, 'outcome' | 'message'>

/** That the machine went down says more than how the run on this side ended. */
function withMachine({ outcome, message }: DriverEnd, after: MachineAfter): Told {
  if (after.kind === 'same') return { outcome, message }
  const how = after.kind === 'restarted' ? 'the machine under test restarted' : ['the machine under test stood still', ...after.told].join('; ')
  return { outcome: after.kind === 'restarted' ? 'machine reset' : 'hung', message: joined(how, message) }
}

/** Whatever the run came to, it came to it under another tune than the one asked for. */
function withReport(told: Told, report: SelfReport): Told {
  return report.kind === 'contradicts' ? { outcome: 'fallback start', message: joined(report.message, COMPARABLE_OUTCOMES.has(told.outcome) ? told.message : joined(told.outcome, told.message)) } : told
}

function inForce(at: string, inForceId: string, { gate }: Exclude<SelfReport, { kind: 'nothing' }>): JournalBodyOf<'in force'> {
  return { type: 'in force', at, inForceId, tune: gate.tune, known: gate.known, observed: [...gate.observed] }
}

function joined(one: string | null, other: string | null): string | null {
  const both = [one, other].filter((text) => text !== null)
  return both.length === 0 ? null : both.join('; ')
}

function workloadOf({ plan }: RigContext, name: string): PlanWorkload {
  const workload = plan.workloads.find((workload) => workload.name === name)
  if (workload === undefined) throw new SpokenError({ code: 'plan-unknown-name', message: `there is no workload "${name}" in this plan.` })
  return workload
}
