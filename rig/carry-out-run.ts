// Carries out one run in the open start: begin on disk, command, end on disk.
import { SpokenError, fixed, type PlanWorkload } from '@guardband/model'
import { resolve } from 'node:path'
import { judgeRun, markResultFiles } from './judge-run.ts'
import { groupNote } from './process-group.ts'
import { clip, execute, moment, type OpenedStart, type RigContext, type SessionState } from './rig-context.ts'
import { isFinishing } from './journal-folder.ts'
import type { RunStep } from './step-source.ts'

/** Returns once the end is acknowledged. Throws when the journal fails, when space runs out, or when the command may not run. */
export async function carryOutRunInto(state: SessionState, context: RigContext, start: OpenedStart, step: RunStep): Promise<string> {
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

  const { outcome, measures, message } = await judgeRun({ workload, end, folder, before, patterns: context.patterns })
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
  })
  if (isFinishing(outcome)) state.finished.set(step.id, { by: 'end', outcome, seconds: end.seconds, workload: step.workload })
  return `${step.id}  ${step.workload}  ${outcome}  ${fixed(end.seconds, 2)} s${message === null ? '' : `  (${message})`}`
}

function workloadOf({ plan }: RigContext, name: string): PlanWorkload {
  const workload = plan.workloads.find((workload) => workload.name === name)
  if (workload === undefined) throw new SpokenError({ code: 'plan-unknown-name', message: `there is no workload "${name}" in this plan.` })
  return workload
}
