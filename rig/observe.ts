// One observable of a tune: read from a command, a file, a person or what a workload printed, and held against what is expected.
import type { JournalBodyOf, Observable } from '@guardband/model'
import { resolve } from 'node:path'
import { commandFault } from './command-fault.ts'
import { execute, type RigContext } from './rig-context.ts'
import { readNumber, readValue, type ReadingPlace } from './reading.ts'
import { typedNumber } from './typed-number.ts'

export type Observed = JournalBodyOf<'in force'>['observed'][number]

export interface ObservedResult {
  readonly observed: Observed
  /** What was expected and what was found, in words. */
  readonly text: string
}

/** By its command, from its file, or by a person; not for one that a workload reports. Stops with `person-needed` where one is to type it and nobody is there. */
export async function observe(context: RigContext, observable: Observable, tune: string): Promise<ObservedResult> {
  return compared(observable, await read(context, observable, tune))
}

/** Out of what was printed already. */
export async function observeIn(observable: Observable, place: ReadingPlace): Promise<ObservedResult> {
  return compared(observable, await readHere(observable, place))
}

type Found = { readonly kind: 'value'; readonly value: number | string } | { readonly kind: 'missing'; readonly message: string }

function compared({ key, expected, tolerance = 0, unit }: Observable, found: Found): ObservedResult {
  const matches = found.kind === 'value' && (typeof expected === 'number' ? Math.abs(Number(found.value) - expected) <= tolerance + ROUNDING * Math.abs(expected) : found.value === expected)
  const wanted = typeof expected === 'number' && tolerance > 0 ? `${expected} ± ${tolerance}` : String(expected)
  const got = found.kind === 'value' ? String(found.value) : `nothing (${found.message})`
  return {
    observed: { key, expected, found: found.kind === 'value' ? found.value : null, ...(unit === undefined ? {} : { unit }), matches },
    text: `${key} must read ${wanted}${unit === undefined ? '' : ` ${unit}`}; got ${got}`,
  }
}

async function read(context: RigContext, observable: Observable, tune: string): Promise<Found> {
  const { command, reading } = observable
  if ('typed' in reading) return readTyped(context, observable, reading.typed, tune)
  const end = command === undefined ? null : await execute(context, command, context.signal)
  context.signal.throwIfAborted()
  const fault = end === null ? null : commandFault(end)
  if (fault !== null) return { kind: 'missing', message: `its command ${fault}` }
  return readHere(observable, { folder: resolve(context.planFolder, command?.folder ?? '.'), end, patterns: context.patterns })
}

async function readHere({ reading, expected }: Observable, place: ReadingPlace): Promise<Found> {
  if (typeof expected === 'number') return readNumber(reading, place)
  const result = await readValue(reading, place)
  return result.kind === 'value' ? { kind: 'value', value: result.text.trim() } : result
}

/** What is expected is not shown: whoever reads it off shall say what stands there. */
async function readTyped(context: RigContext, { key, expected, unit }: Observable, typed: string, tune: string): Promise<Found> {
  const asked = `${key}: ${typed}`
  for (let text = asked; ; ) {
    const { answer } = await context.ask({ kind: 'value', step: `tune ${tune}`, text, ...(typeof expected === 'number' ? { unit: unit ?? '1' } : {}) })
    if (typeof expected === 'string') return { kind: 'value', value: answer.trim() }
    const number = typedNumber(answer, unit ?? '1')
    if (number.kind === 'value') return number
    text = `${number.message}\n${asked}`
  }
}

/** A tolerance such as 0.1 around 0.3 must take in 0.4 whatever binary fractions make of it. */
const ROUNDING = 1e-12
