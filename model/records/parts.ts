// Parts (products), samples (physical units), rigs, assemblies and mounts: what was tested and how it sat.
import { z } from 'zod'
import { idSchema } from '../ids.ts'
import { finiteSchema, momentSchema, nameSchema, recordBase } from './base.ts'

/** The place that a sample takes in an assembly. */
export const slotSchema = z.enum(['processor', 'memory', 'board', 'cooler', 'graphics', 'storage', 'supply', 'other'])
export type Slot = z.infer<typeof slotSchema>

export const priceSchema = z.strictObject({ amount: finiteSchema.min(0), at: momentSchema })

export const partSchema = z.strictObject({
  ...recordBase('part'),
  name: nameSchema,
  slot: slotSchema,
  /** Dated prices in the lab's currency; the latest counts. */
  prices: z.array(priceSchema).default([]),
})
export type Part = z.infer<typeof partSchema>

export const originSchema = z.enum(['retail', 'press', 'pre-production', 'returned', 'unknown'])
export const pickedSchema = z.enum(['at random', 'chosen', 'unknown'])
export const sampleStatusSchema = z.enum(['bench', 'for sale', 'quarantined', 'wet'])

export const sampleSchema = z.strictObject({
  ...recordBase('sample'),
  partId: idSchema,
  label: nameSchema,
  /** As the maker printed it; the label is the lab's own. */
  serial: z.string().max(200).optional(),
  batch: z.string().max(100).optional(),
  origin: originSchema.default('unknown'),
  picked: pickedSchema.default('unknown'),
  /** What this one cost, in the lab's currency. */
  paid: priceSchema.optional(),
  status: sampleStatusSchema.default('bench'),
  /** Why it may not be sold; stays when the status changes again. */
  quarantine: z.strictObject({ reason: z.string().trim().min(1).max(2000), by: nameSchema, at: momentSchema }).optional(),
  /** Looks at it after it was wet: it stays locked until one found it dry and sound. */
  inspections: z.array(z.strictObject({ at: momentSchema, by: nameSchema, dry: z.boolean(), found: z.string().trim().min(1).max(2000) })).optional(),
  /** The bin that it was sorted into. */
  bin: z.strictObject({ binId: idSchema, at: momentSchema, by: nameSchema, reason: z.string().max(2000).optional() }).optional(),
})
export type Sample = z.infer<typeof sampleSchema>

export const rigSchema = z.strictObject({ ...recordBase('rig'), name: nameSchema })
export type Rig = z.infer<typeof rigSchema>

/** Which samples sit in which slot of a rig, since when. */
export const assemblySchema = z.strictObject({
  ...recordBase('assembly'),
  rigId: idSchema,
  since: momentSchema,
  slots: z.array(z.strictObject({ slot: slotSchema, position: z.string().max(40).optional(), sampleId: idSchema })),
})
export type Assembly = z.infer<typeof assemblySchema>

/** One mounting of the cooler; remounting is a level of variation. */
export const mountSchema = z.strictObject({
  ...recordBase('mount'),
  assemblyId: idSchema,
  at: momentSchema,
  paste: z.string().max(200).optional(),
  torque: z.string().max(100).optional(),
  frame: z.string().max(100).optional(),
  /** Whether the processor kept its lid, and what is under it. */
  lid: z.string().max(100).optional(),
})
export type Mount = z.infer<typeof mountSchema>

/** What a sample must show to be sorted into a bin. Evidence is its runs; a criterion without runs is open, not met. */
export const binCriterionSchema = z.discriminatedUnion('what', [
  z.strictObject({ what: z.literal('measure'), workloadId: idSchema, measure: nameSchema, tuneId: idSchema.optional(), bound: z.enum(['at least', 'at most']), value: finiteSchema }),
  z.strictObject({ what: z.literal('clean runs'), workloadId: idSchema.optional(), tuneId: idSchema, count: z.int().positive() }),
])
export type BinCriterion = z.infer<typeof binCriterionSchema>

/** A name, criteria and price that samples of a part are sorted into. */
export const binSchema = z.strictObject({
  ...recordBase('bin'),
  name: nameSchema,
  partId: idSchema,
  prices: z.array(priceSchema).default([]),
  criteria: z.array(binCriterionSchema).default([]),
})
export type Bin = z.infer<typeof binSchema>
