// What a plan's schema can't state about its workloads and readings: who carries a workload out, and where each value can come from.
import type { Observable, Reading } from './command.ts'
import type { Plan, PlanMachine, PlanTraining, PlanWorkload } from './plan.ts'

export interface PlanFault {
  /** As a reader finds it in the file: `workloads[2].measures[0].reading`. */
  readonly path: string
  /** Goes on after the path: "must have ...; got ...". */
  readonly rule: string
  readonly mend: string
}

/** In the order of the plan. */
export function* planFaults(plan: Plan): Generator<PlanFault> {
  for (const [index, { readBack }] of plan.tunes.entries()) {
    for (const [at, observable] of readBack.entries()) yield* observableFaults(plan, observable, `tunes[${index}].readBack[${at}]`)
  }
  for (const [index, workload] of plan.workloads.entries()) yield* workloadFaults(workload, `workloads[${index}]`)
  if (plan.training !== undefined) yield* trainingFaults(plan.training)
  if (plan.machine !== undefined) yield* machineFaults(plan.machine)
}

const DRIVERS = ['command', 'prompt', 'selfCheck'] as const

function* workloadFaults(workload: PlanWorkload, path: string): Generator<PlanFault> {
  const own = DRIVERS.filter((driver) => workload[driver] !== undefined)
  if (own.length !== 1) {
    const got = own.length === 0 ? 'none of them' : own.length === 2 ? own.join(' and ') : 'all three'
    yield { path, rule: `must have exactly one of command, prompt and selfCheck; got ${got}`, mend: own.length === 0 ? 'Say what carries it out.' : 'Keep one; what a person and a program do are two workloads.' }
    return
  }
  if (workload.selfCheck !== undefined && workload.measures.length > 0) {
    yield { path: `${path}.measures`, rule: `must be empty: a self-check passes or fails, and has no measures; got ${workload.measures.length}`, mend: 'Take them out.' }
  }
  if (workload.prompt === undefined) return
  for (const [at, { reading }] of workload.measures.entries()) {
    if ('typed' in reading || 'file' in reading) continue
    const rule = 'elapsed' in reading ? 'must not be elapsed seconds: nothing times what a person does' : 'must be typed or come from a file: a person prints nothing'
    yield { path: `${path}.measures[${at}].reading`, rule, mend: 'For example { "typed": "What does the meter say?" }.' }
  }
}

function* observableFaults(plan: Plan, observable: Observable, path: string): Generator<PlanFault> {
  const { command, selfReported, reading, expected, tolerance } = observable
  if ('elapsed' in reading) yield { path: `${path}.reading`, rule: 'must read what is in force; got elapsed seconds', mend: 'Read a value from a command, a file, a person or a workload.' }
  else if (selfReported !== undefined) yield* selfReportFaults(plan, observable, selfReported, path)
  else if (command !== undefined && 'typed' in reading) yield { path: `${path}.reading`, rule: 'must be what the command shows; got one that a person types', mend: 'Take out the command, or read what it prints.' }
  else if (command === undefined && isPrinted(reading)) yield { path, rule: 'must have a command, a reading from a file, one that a person types, or a workload that reports it', mend: 'Add one of them.' }
  if (tolerance !== undefined && typeof expected === 'string') yield { path: `${path}.tolerance`, rule: 'goes with a number only; the expected value is a text', mend: 'Write the expected value without quotes, or take the tolerance out.' }
}

function* selfReportFaults(plan: Plan, { command, reading }: Observable, name: string, path: string): Generator<PlanFault> {
  const workload = plan.workloads.find((each) => each.name === name)
  if (command !== undefined) yield { path, rule: 'must have a command of its own or a workload that reports it; got both', mend: 'Keep one.' }
  else if (workload === undefined) yield { path: `${path}.selfReported`, rule: `must name a workload of this plan; got "${name}"`, mend: `It has: ${plan.workloads.map((each) => each.name).join(', ')}.` }
  else if (workload.command === undefined) yield { path: `${path}.selfReported`, rule: `must name a workload that a command carries out; "${name}" prints nothing`, mend: 'Name one that does, or let a person type the value.' }
  else if (!isPrinted(reading)) yield { path: `${path}.reading`, rule: 'must be a pattern or a pointer into what the workload prints', mend: 'For example { "pattern": "clock: ([0-9.]+)" }.' }
}

function* trainingFaults(training: PlanTraining): Generator<PlanFault> {
  for (const key of ['result', 'tries', 'seconds', 'postCode'] as const) {
    const reading = training[key]
    if (reading === undefined) continue
    if ('elapsed' in reading) yield { path: `training.${key}`, rule: 'must be what the machine tells of its training; got the elapsed seconds of this command', mend: 'Read a value that it prints, or let a person type it.' }
    else if (training.command === undefined && isPrinted(reading)) yield { path: `training.${key}`, rule: 'must come from a file or be typed: there is no training.command to print it', mend: 'Add a command, or read it from elsewhere.' }
  }
}

function* machineFaults({ boot }: PlanMachine): Generator<PlanFault> {
  const { reading } = boot
  if ('typed' in reading || 'elapsed' in reading) yield { path: 'machine.boot.reading', rule: 'must be what the command shows', mend: 'Read the boot id that it prints; it is asked while nobody may be there.' }
}

function isPrinted(reading: Reading): boolean {
  return 'in' in reading
}
