// The read-back gate: asked is not applied, so each observable of a tune is read and held against what is expected.
import { fixed, type JournalBodyOf, type Known, type Observable, type PlanTune } from '@guardband/model'
import { resolve } from 'node:path'
import { confirmInForce } from './confirm-in-force.ts'
import { execute, type RigContext } from './rig-context.ts'
import { readNumber, readValue } from './reading.ts'

export type Observed = JournalBodyOf<'in force'>['observed'][number]

export interface GateResult {
  /** The tune asked for, null when something read back differs from it and no person vouches for it, or when a person says that it is not in force. */
  readonly tune: string | null
  readonly known: Known
  readonly observed: readonly Observed[]
  /** What differed and what a person said of it; null when there is nothing to add. */
  readonly message: string | null
}

/** Where nothing can be read, or what was read differs, a person at the terminal decides; without one a difference means fallback. */
export async function readBack(context: RigContext, tune: PlanTune): Promise<GateResult> {
  if (tune.readBack.length === 0) return withoutObservables(context, tune)
  const results: ObservedResult[] = []
  for (const observable of tune.readBack) results.push(await observe(context, observable))
  const observed = results.map((result) => result.observed)
  const differing = results.filter((result) => !result.observed.matches).map(({ text }) => text)
  if (differing.length === 0) return { tune: tune.name, known: 'read back', observed, message: null }
  const message = differing.join('; ')
  const word = await confirmInForce(context, tune, differing)
  if (word === 'confirmed') return { tune: tune.name, known: 'seen by a person', observed, message: `${message}; a person says that the settings asked for are in force all the same` }
  return { tune: null, known: 'read back', observed, message: word === 'denied' ? `${message}; a person confirms that the settings asked for are not in force` : message }
}

async function withoutObservables(context: RigContext, tune: PlanTune): Promise<GateResult> {
  switch (await confirmInForce(context, tune, [])) {
    case 'confirmed':
      return { tune: tune.name, known: 'seen by a person', observed: [], message: null }
    case 'denied':
      return { tune: null, known: 'seen by a person', observed: [], message: 'a person says that the settings asked for are not in force' }
    case 'nobody there':
      return { tune: tune.name, known: 'unverified', observed: [], message: null }
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
