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
export async function askMeasures(order: DriverOrder, known: Pick<DriverEnd, 'outcome' | 'measures'>, signal: AbortSignal): Promise<Pick<DriverEnd, 'outcome' | 'measures' | 'stop'>> {
  const { workload } = order
  const values = new Map(known.measures.map(({ name, value }) => [name, value]))
  const inOrder = (): readonly MeasureValue[] => workload.measures.flatMap(({ name }) => {
    const value = values.get(name)
    return value === undefined ? [] : [{ name, value }]
  })
  for (const measure of typedMeasures(workload)) {
    const asked = await askOne(order, measure, signal)
    if (asked.kind === 'stopped') return { ...stoppedBy(asked), measures: inOrder() }
    values.set(measure.name, asked.said)
  }
  return { outcome: known.outcome, measures: inOrder() }
}

/** Before a run that will need one. */
export function requirePerson({ context, step, workload }: DriverOrder): void {
  if (context.people.present) return
  throw new SpokenError({ code: 'person-needed', place: `step ${step}`, message: `a person is needed here: the workload "${workload.name}" is ${workload.prompt === undefined ? 'measured' : 'carried out'} by one.`, mend: 'Run the plan on a terminal; it goes on at this step.' })
}

export interface Stopped {
  readonly kind: 'stopped'
  /** Where whoever was asked has gone; null for a person's stop and for a journal that failed, which the caller of the driver tells apart. */
  readonly stop: SpokenError | null
}

export type Asked<T> = { readonly kind: 'said'; readonly said: T } | Stopped

/** A run that has begun comes to an end, also where nobody answers any more. */
export async function askedUntil<T>(ask: () => Promise<T>, signal: AbortSignal): Promise<Asked<T>> {
  try {
    return { kind: 'said', said: await ask() }
  } catch (cause) {
    if (signal.aborted) return { kind: 'stopped', stop: null }
    if (cause instanceof SpokenError && cause.code === 'person-needed') return { kind: 'stopped', stop: cause }
    throw cause
  }
}

export function stoppedBy({ stop }: Stopped): Pick<DriverEnd, 'outcome' | 'stop'> {
  return { outcome: 'stopped by a person', ...(stop === null ? {} : { stop }) }
}

async function askOne({ context, step, workload }: DriverOrder, { name, unit, typed }: TypedMeasure, signal: AbortSignal): Promise<Asked<number>> {
  for (let fault = ''; ; ) {
    const text = [...(fault === '' ? [] : [fault]), `${workload.name}, ${name}: ${typed}`].join('\n')
    const asked = await askedUntil(() => context.ask({ kind: 'value', step, text, unit }, signal), signal)
    if (asked.kind === 'stopped') return asked
    const read = typedNumber(asked.said.answer, unit)
    const odd = read.kind === 'value' ? senseFault(read.value, unit) : read.message
    if (read.kind === 'value' && odd === null) return { kind: 'said', said: read.value }
    fault = sentence(odd ?? '')
  }
}

function sentence(text: string): string {
  return `${text.slice(0, 1).toUpperCase()}${text.slice(1).replace(/\.$/, '')}.`
}
