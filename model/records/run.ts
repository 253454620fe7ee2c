// A run: one execution of a workload, with its outcome, measures, exposure and place in the order.
import { z } from 'zod'
import { idSchema } from '../ids.ts'
import { finiteSchema, momentSchema, nameSchema, recordBase } from './base.ts'

export const outcomeSchema = z.enum([
  'scored', 'passed', 'errors', 'wrong result', 'program died', 'hung', 'machine reset', 'protection trip', 'device lost',
  'throttled', 'stopped by a person', 'no start', 'fallback start', 'system fails to load',
])
export type Outcome = z.infer<typeof outcomeSchema>

/** Outcomes that carry measures fit for a comparison. */
export const COMPARABLE_OUTCOMES: ReadonlySet<Outcome> = new Set<Outcome>(['scored', 'passed'])

/** Outcomes that are nobody's failure: they say nothing about the setting. */
export const NEUTRAL_OUTCOMES: ReadonlySet<Outcome> = new Set<Outcome>(['stopped by a person'])

export const phaseSchema = z.enum(['start-up', 'light', 'heavy', 'transition', 'idle', 'resume'])

export const exposureSchema = z.strictObject({
  seconds: finiteSchema.min(0).optional(),
  passes: finiteSchema.min(0).optional(),
  bytes: finiteSchema.min(0).optional(),
})

export const measureValueSchema = z.strictObject({ name: nameSchema, value: finiteSchema })

export const runSchema = z.strictObject({
  ...recordBase('run'),
  startId: idSchema,
  inForceId: idSchema,
  workloadId: idSchema,
  /** Place within its start: 0 for the first run. */
  order: z.int().min(0),
  at: momentSchema.optional(),
  outcome: outcomeSchema,
  phase: phaseSchema.optional(),
  /** What failed: a core, a channel, an address. */
  place: z.string().max(500).optional(),
  measures: z.array(measureValueSchema).default([]),
  exposure: exposureSchema.optional(),
  /** Set aside by a person: kept, shown, left out of the main answer. */
  setAside: z.strictObject({ reason: z.string().trim().min(1).max(2000), by: nameSchema, at: momentSchema }).optional(),
})
export type Run = z.infer<typeof runSchema>
