// Carries out one run in the open start: begin on disk, command, end on disk.
import { COMPARABLE_OUTCOMES, NEUTRAL_OUTCOMES, SpokenError, fixed, type Outcome, type PlanWorkload } from '@guardband/model'
import { resolve } from 'node:path'
import { keepOutput } from './keep-output.ts'
import { judgeRun, markResultFiles, type Judgement } from './judge-run.ts'
import type { MachineAfter } from './machine.ts'
import { groupNote } from './process-group.ts'
import { clip, execute, moment, type OpenedStart, type RigContext, type SessionState } from './rig-context.ts'
import { isFinishing } from './journal-folder.ts'
import type { RunStep } from './step-source.ts'

/** Returns once the end is acknowledged. Throws when the journal fails, when space runs out, or when the command may not run. */
export async function carryOutRunInto(state: SessionState, context: RigContext, start: OpenedStart, step: RunStep): Promise<RunEnd> {
  const { writer, inForceId } = start
  const { sources } = context
  const workload = workloadOf(context, step.workload)
  const { command } = workload
  if (command === undefined) throw new RangeError(`workload ${workload.name} must have a command; got none`)
  const folder = resolve(context.planFolder, command.folder ?? '.')
  await writer.reserve()
  // Once here, so that a refusal comes before the run begins, and again with the execution.
  context.check(command)
  const before = await markResultFiles(workload, folder)
  const runId = sources.newId()
  await writer.writeSynced({ type: 'begin', at: moment(context), step: step.id, runId, inForceId, workload: step.workload, order: start.order })
  start.order += 1

  const begun = sources.monotonic()
  const beat = () => {
    // A failure shows in `writer.failed`, which ends the run.
    void writer.write({ type: 'heartbeat', at: moment(context), step: step.id, elapsed: Math.max(0, sources.monotonic() - begun) }).catch(() => {})
  }
  const heartbeats = setInterval(beat, context.heartbeatSeconds * 1000)
  const end = await execute(context, command, AbortSignal.any([context.signal, writer.failed]), (pid) => {
    void writer.write({ type: 'note', at: moment(context), text: groupNote(pid) }).catch(() => {})
  }).finally(() => clearInterval(heartbeats))
  writer.failed.throwIfAborted()

  const judged = await judgeRun({ workload, end, folder, before, patterns: context.patterns })
  const after: MachineAfter = WELL.has(judged.outcome) ? { kind: 'same' } : await context.machine.afterTrouble(state.boot)
  const { outcome, measures, message } = withMachine(judged, after)
  const kept = WELL.has(outcome) ? [] : await keepOutput(context, end)
  await writer.writeSynced({
    type: 'end',
    at: moment(context),
    step: step.id,
    runId,
    outcome,
    measures: [...measures],
    seconds: end.seconds,
    exitStatus: end.exitStatus,
    signal: end.signal,
    ...(message === null ? {} : { message: clip(message) }),
    ...(kept.length === 0 ? {} : { kept }),
  })
  if (isFinishing(outcome)) state.finished.set(step.id, { by: 'end', outcome, seconds: end.seconds, workload: step.workload })
  return { line: `${step.id}  ${step.workload}  ${outcome}  ${fixed(end.seconds, 2)} s${message === null ? '' : `  (${message})`}`, outcome, after }
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

/** That the machine went down says more than how the command on this side ended. */
function withMachine(judged: Judgement, after: MachineAfter): Judgement {
  if (after.kind === 'same') return judged
  const how = after.kind === 'restarted' ? 'the machine under test restarted' : ['the machine under test stood still', ...after.told].join('; ')
  return { outcome: after.kind === 'restarted' ? 'machine reset' : 'hung', measures: [], message: judged.message === null ? how : `${how}; ${judged.message}` }
}

function workloadOf({ plan }: RigContext, name: string): PlanWorkload {
  const workload = plan.workloads.find((workload) => workload.name === name)
  if (workload === undefined) throw new SpokenError({ code: 'plan-unknown-name', message: `there is no workload "${name}" in this plan.` })
  return workload
}
