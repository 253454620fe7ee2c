// The read-back gate: asked is not applied, so each observable of a tune is read and held against what is expected.
import { fixed, type JournalBodyOf, type Known, type Observable, type PlanTune } from '@guardband/model'
import { resolve } from 'node:path'
import { execute, type RigContext } from './rig-context.ts'
import { readNumber, readValue } from './reading.ts'

export type Observed = JournalBodyOf<'in force'>['observed'][number]

export interface GateResult {
  /** The tune asked for, null when something read back differs from it. */
  readonly tune: string | null
  readonly known: Known
  readonly observed: readonly Observed[]
  /** What differed, in words; null when all matched. */
  readonly message: string | null
}

export async function readBack(context: RigContext, tune: PlanTune): Promise<GateResult> {
  if (tune.readBack.length === 0) return { tune: tune.name, known: 'unverified', observed: [], message: null }
  const results: ObservedResult[] = []
  for (const observable of tune.readBack) results.push(await observe(context, observable))
  const differing = results.filter(({ observed }) => !observed.matches)
  return {
    tune: differing.length === 0 ? tune.name : null,
    known: 'read back',
    observed: results.map(({ observed }) => observed),
    message: differing.length === 0 ? null : differing.map(({ text }) => text).join('; '),
  }
}

interface ObservedResult {
  readonly observed: Observed
  readonly text: string
}

async function observe(context: RigContext, observable: Observable): Promise<ObservedResult> {
  const { key, expected, tolerance = 0, unit } = observable
  const found = await read(context, observable)
  const matches = found.kind === 'value' && (typeof expected === 'number' ? Math.abs(Number(found.value) - expected) <= tolerance + ROUNDING * Math.abs(expected) : found.value === expected)
  const wanted = typeof expected === 'number' && tolerance > 0 ? `${expected} ± ${tolerance}` : String(expected)
  const got = found.kind === 'value' ? String(found.value) : `nothing (${found.message})`
  return {
    observed: { key, expected, found: found.kind === 'value' ? found.value : null, ...(unit === undefined ? {} : { unit }), matches },
    text: `${key} must read ${wanted}${unit === undefined ? '' : ` ${unit}`}; got ${got}`,
  }
}

type Found = { readonly kind: 'value'; readonly value: number | string } | { readonly kind: 'missing'; readonly message: string }

async function read(context: RigContext, { command, reading, expected }: Observable): Promise<Found> {
  const end = command === undefined ? null : await execute(context, command, context.signal)
  context.signal.throwIfAborted()
  if (end !== null && (end.how !== 'ended' || end.exitStatus !== 0)) {
    const how = end.how === 'time limit' ? `was ended after ${fixed(end.seconds, 1)} s` : `ended with ${end.exitStatus === null ? `signal ${end.signal ?? 'unknown'}` : `status ${end.exitStatus}`}`
    return { kind: 'missing', message: `its command ${how}` }
  }
  const place = { folder: resolve(context.planFolder, command?.folder ?? '.'), end, patterns: context.patterns }
  if (typeof expected === 'number') return readNumber(reading, place)
  const result = await readValue(reading, place)
  return result.kind === 'value' ? { kind: 'value', value: result.text.trim() } : result
}

/** A tolerance such as 0.1 around 0.3 must take in 0.4 whatever binary fractions make of it. */
const ROUNDING = 1e-12
