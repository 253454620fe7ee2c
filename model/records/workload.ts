// Workloads and their measures, suites that weigh them, and grades of holding up.
import { z } from 'zod'
import { idSchema } from '../ids.ts'
import { finiteSchema, nameSchema, recordBase } from './base.ts'

export const directionSchema = z.enum(['higher is better', 'lower is better'])

export const measureSchema = z.strictObject({
  name: nameSchema,
  unit: z.string().min(1).max(20),
  direction: directionSchema,
  /** The step in which the instrument prints, in the measure's unit; scores may tie at it. */
  resolution: finiteSchema.positive().optional(),
  /** Smallest difference that matters: percent for ratio units, the unit itself for differences (degC, dBA). */
  matters: finiteSchema.positive().optional(),
})
export type Measure = z.infer<typeof measureSchema>

export const workloadSchema = z.strictObject({
  ...recordBase('workload'),
  name: nameSchema,
  group: z.string().max(100).optional(),
  version: z.string().max(100).optional(),
  preset: z.string().max(200).optional(),
  threads: z.int().positive().optional(),
  inputHash: z.string().max(200).optional(),
  /** Empty for one that only passes or fails. */
  measures: z.array(measureSchema),
})
export type Workload = z.infer<typeof workloadSchema>

export const suiteSchema = z.strictObject({
  ...recordBase('suite'),
  name: nameSchema,
  items: z.array(z.strictObject({ workloadId: idSchema, measure: nameSchema, weight: finiteSchema.positive() })).min(1),
})
export type Suite = z.infer<typeof suiteSchema>

/** A named level of holding up: the evidence it requires. */
export const gradeSchema = z.strictObject({
  ...recordBase('grade'),
  name: nameSchema,
  requires: z.array(
    z.strictObject({
      what: z.enum(['cold starts', 'warm starts', 'clean suite', 'clean hours', 'clean passes over memory']),
      count: finiteSchema.positive(),
      workloadId: idSchema.optional(),
    }),
  ),
})
