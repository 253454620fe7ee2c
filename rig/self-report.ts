// What a workload reports of the tune itself: read from what its first run in the start printed, and held against what the tune expects.
import type { Known, Observable } from '@guardband/model'
import { COMPARABLE_OUTCOMES, NEUTRAL_OUTCOMES } from '@guardband/model'
import { resolve } from 'node:path'
import type { CapturedText } from './command-driver.ts'
import type { DriverEnd } from './driver.ts'
import { observeIn, type Observed } from './observe.ts'
import type { GateResult } from './read-back.ts'
import type { RigContext } from './rig-context.ts'

export type SelfReport =
  /** Nothing of it is awaited, or this run came to no report: the next run of that workload may. */
  | { readonly kind: 'nothing' }
  | { readonly kind: 'agrees'; readonly gate: GateResult }
  /** The tune is not in force, and was not in this start so far. */
  | { readonly kind: 'contradicts'; readonly gate: GateResult; readonly message: string }

export interface SelfReportOrder {
  readonly context: RigContext
  readonly gate: GateResult
  readonly workload: string
  readonly end: DriverEnd
}

/** A run that ended well and does not report what it should contradicts too: like anything else that can't be read back. */
export async function readSelfReport({ context, gate, workload, end }: SelfReportOrder): Promise<SelfReport> {
  const awaited = (gate.pending ?? []).filter(({ selfReported }) => selfReported === workload)
  if (awaited.length === 0 || end.output === null || end.errorOutput === null || NEUTRAL_OUTCOMES.has(end.outcome)) return NOTHING
  const well = COMPARABLE_OUTCOMES.has(end.outcome)
  const printed = end.exitStatus !== null ? { output: end.output, errorOutput: end.errorOutput } : { output: wholeLines(end.output), errorOutput: wholeLines(end.errorOutput) }
  const folder = resolve(context.planFolder, context.plan.workloads.find(({ name }) => name === workload)?.command?.folder ?? '.')
  const observed: Observed[] = []
  const differing: string[] = []
  const left: Observable[] = []
  for (const observable of awaited) {
    const result = await observeIn(observable, { folder, end: { ...printed, seconds: end.seconds }, patterns: context.patterns })
    if (result.observed.found === null && !well) {
      left.push(observable)
      continue
    }
    observed.push(result.observed)
    if (!result.observed.matches) differing.push(result.text)
  }
  if (observed.length === 0) return NOTHING
  const all = [...gate.observed, ...observed]
  if (differing.length > 0) {
    const message = `the tune is not in force, as "${workload}" itself reports: ${differing.join('; ')}`
    return { kind: 'contradicts', message, gate: { tune: null, known: 'read back', observed: all, message } }
  }
  const pending = (gate.pending ?? []).filter((observable) => observable.selfReported !== workload || left.includes(observable))
  return { kind: 'agrees', gate: { ...gate, known: KNOWN_AFTER[gate.known], observed: all, pending } }
}

const NOTHING: SelfReport = { kind: 'nothing' }

/** A person's word is not made a reading by another one that agrees. */
const KNOWN_AFTER: Readonly<Record<Known, Known>> = { 'read back': 'read back', measured: 'measured', 'seen by a person': 'seen by a person', unverified: 'read back' }

/** A program that was cut short may have been so in the middle of a figure. */
function wholeLines({ text, bytes, cut }: CapturedText): CapturedText {
  return { text: text.slice(0, text.lastIndexOf('\n') + 1), bytes, cut }
}
