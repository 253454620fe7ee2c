// The measures that a person types: each asked for by its own words, in its unit, until what comes is a number that makes sense in it.
import { SpokenError, type PlanWorkload } from '@guardband/model'
import type { DriverEnd, DriverOrder, MeasureValue } from './driver.ts'
import { senseFault } from './judge-run.ts'
import { typedNumber } from './typed-number.ts'

export interface TypedMeasure {
  readonly name: string
  readonly unit: string
  /** What a person is asked. */
  readonly typed: string
}

export function typedMeasures(workload: PlanWorkload): readonly TypedMeasure[] {
  return workload.measures.flatMap(({ name, unit, reading }) => ('typed' in reading ? [{ name, unit, typed: reading.typed }] : []))
}

/** Adds what is typed to what is known already, in the plan's order. A stop in the middle keeps what was measured until then. */
export async function askMeasures(order: DriverOrder, known: Pick<DriverEnd, 'outcome' | 'measures'>, signal: AbortSignal): Promise<Pick<DriverEnd, 'outcome' | 'measures'>> {
  const { workload } = order
  const values = new Map(known.measures.map(({ name, value }) => [name, value]))
  const inOrder = (): readonly MeasureValue[] => workload.measures.flatMap(({ name }) => {
    const value = values.get(name)
    return value === undefined ? [] : [{ name, value }]
  })
  for (const measure of typedMeasures(workload)) {
    const value = await askOne(order, measure, signal)
    if (value === null) return { outcome: 'stopped by a person', measures: inOrder() }
    values.set(measure.name, value)
  }
  return { outcome: known.outcome, measures: inOrder() }
}

/** Before a run that will need one. */
export function requirePerson({ context, step, workload }: DriverOrder): void {
  if (context.people.present) return
  throw new SpokenError({ code: 'person-needed', place: `step ${step}`, message: `a person is needed here: the workload "${workload.name}" is ${workload.prompt === undefined ? 'measured' : 'carried out'} by one.`, mend: 'Run the plan on a terminal; it goes on at this step.' })
}

/** Null where the signal was aborted first. */
export async function askedUntil<T>(ask: () => Promise<T>, signal: AbortSignal): Promise<T | null> {
  try {
    return await ask()
  } catch (cause) {
    // A stop, or a journal that failed: the caller of the driver tells them apart.
    if (signal.aborted) return null
    throw cause
  }
}

async function askOne({ context, step, workload }: DriverOrder, { name, unit, typed }: TypedMeasure, signal: AbortSignal): Promise<number | null> {
  for (let fault = ''; ; ) {
    const text = [...(fault === '' ? [] : [fault]), `${workload.name}, ${name}: ${typed}`].join('\n')
    const said = await askedUntil(() => context.ask({ kind: 'value', step, text, unit }, signal), signal)
    if (said === null) return null
    const read = typedNumber(said.answer, unit)
    const odd = read.kind === 'value' ? senseFault(read.value, unit) : read.message
    if (read.kind === 'value' && odd === null) return read.value
    fault = sentence(odd ?? '')
  }
}

function sentence(text: string): string {
  return `${text.slice(0, 1).toUpperCase()}${text.slice(1).replace(/\.$/, '')}.`
}
