// Routes over parts, samples and rigs whole: a part with its samples held against its bins, one sample, what happened on a rig.
import { z } from 'zod'
import { idSchema } from '../ids.ts'
import { finiteSchema, momentSchema } from '../records/base.ts'
import { binSchema, partSchema, sampleSchema, slotSchema } from '../records/parts.ts'
import { conditionsSchema, startSchema } from '../records/start.ts'
import { route } from './route.ts'

const nothing = z.strictObject({})

const stateSchema = z.enum(['met', 'not met', 'open'])

/** As `CriterionFinding` of model/bins.ts has it. */
export const criterionFindingSchema = z.strictObject({
  state: stateSchema,
  mean: finiteSchema.nullable(),
  low: finiteSchema.nullable(),
  high: finiteSchema.nullable(),
  starts: z.int(),
  runs: z.int(),
  failed: z.int(),
  setAside: z.int(),
  tunes: z.int(),
})

export const sortingSchema = z.strictObject({
  /** Dearest first. */
  bins: z.array(z.strictObject({ binId: idSchema, state: stateSchema, criteria: z.array(criterionFindingSchema) })),
  suggestedId: idSchema.nullable(),
  openAboveIds: z.array(idSchema),
})
export type SortingReply = z.infer<typeof sortingSchema>

/** A bin with its criteria in words, and the unit of each figure. */
export const binRowSchema = z.strictObject({ bin: binSchema, criteria: z.array(z.strictObject({ text: z.string(), unit: z.string() })) })
export type BinRow = z.infer<typeof binRowSchema>

/** Where a sample sits now. */
export const seatSchema = z.strictObject({ rigId: idSchema, rig: z.string(), since: momentSchema })

export const partWholeSchema = z.strictObject({
  part: partSchema,
  /** Dearest first. */
  bins: z.array(binRowSchema),
  samples: z.array(z.strictObject({ sample: sampleSchema, starts: z.int(), runs: z.int(), seat: seatSchema.nullable(), sorting: sortingSchema })),
})
export type PartWhole = z.infer<typeof partWholeSchema>

export const stretchSchema = z.strictObject({
  rigId: idSchema,
  rig: z.string(),
  slot: slotSchema,
  position: z.string().nullable(),
  since: momentSchema,
  /** Null: it sits there now. */
  until: momentSchema.nullable(),
  starts: z.int(),
})

export const sampleWholeSchema = z.strictObject({
  sample: sampleSchema,
  part: partSchema,
  /** Newest first. */
  stretches: z.array(stretchSchema),
  starts: z.int(),
  runs: z.int(),
  failed: z.int(),
  setAside: z.int(),
  lastStart: momentSchema.nullable(),
  workloads: z.array(z.strictObject({ name: z.string(), runs: z.int(), failed: z.int() })),
  bins: z.array(binRowSchema),
  sorting: sortingSchema,
})
export type SampleWhole = z.infer<typeof sampleWholeSchema>

export const rigWholeSchema = z.strictObject({
  /** Newest first, the last ones. */
  starts: z.array(
    z.strictObject({
      id: idSchema,
      label: z.string(),
      at: momentSchema.nullable(),
      how: startSchema.shape.how,
      result: startSchema.shape.result,
      assemblyId: idSchema,
      mountId: idSchema.nullable(),
      runs: z.int(),
      failed: z.int(),
    }),
  ),
  total: z.int(),
  /** Conditions of the last start: they are carried forward until somebody says otherwise. */
  last: z.strictObject({ startId: idSchema, label: z.string(), conditions: conditionsSchema }).nullable(),
  /** What a person should know before they believe its record: a chain of journals that forks. A sentence each. */
  cautions: z.array(z.string()).optional(),
})
export type RigWhole = z.infer<typeof rigWholeSchema>

export const PART_ROUTES = {
  part: route('GET', '/api/parts/:id', nothing, partWholeSchema),
  sample: route('GET', '/api/samples/:id', nothing, sampleWholeSchema),
  rig: route('GET', '/api/rigs/:id', nothing, rigWholeSchema),
  /** The name under which changes from this page stand in the change log. */
  who: route('GET', '/api/who', nothing, z.strictObject({ who: z.string() })),
} as const
