// The lab itself, campaigns, what a change-over costs, and the questions asked.
import { z } from 'zod'
import { idSchema } from '../ids.ts'
import { finiteSchema, minutesSchema, momentSchema, nameSchema, recordBase } from './base.ts'
import { slotSchema } from './parts.ts'

export const labSchema = z.strictObject({
  ...recordBase('lab'),
  name: nameSchema,
  /** Shown before or after amounts as typed: "EUR", "£". */
  currency: z.string().trim().max(10).default(''),
  /** True when every record comes from the simulated bench; each surface says so. */
  simulated: z.boolean().default(false),
})
export type Lab = z.infer<typeof labSchema>

/** What one change-over costs. Hand-minutes are a person's, machine-minutes pass by themselves. */
export const costSchema = z.strictObject({
  ...recordBase('cost'),
  of: z.enum(['start', 'tune change', 'sample change', 'remount']),
  handMinutes: minutesSchema,
  machineMinutes: minutesSchema,
})
export type Cost = z.infer<typeof costSchema>

/** Fixed before the data and time-stamped. */
export const smallestGainSchema = z.strictObject({ percent: finiteSchema.positive().max(100), fixedAt: momentSchema })
export type SmallestGain = z.infer<typeof smallestGainSchema>

/** Work that belongs together: questions under one budget, or the tunes of a plan with the smallest gain that the plan fixed. */
export const campaignSchema = z.strictObject({
  ...recordBase('campaign'),
  name: nameSchema,
  questionIds: z.array(idSchema),
  tuneIds: z.array(idSchema).optional(),
  /** Holds for comparisons between these tunes unless somebody says otherwise. */
  smallestGain: smallestGainSchema.optional(),
  budgetHours: finiteSchema.positive().optional(),
})
export type Campaign = z.infer<typeof campaignSchema>

/** One side of a comparison: a part, a tune, or a part at a tune; `sampleIds` narrows it further. */
export const sideSchema = z
  .strictObject({
    label: nameSchema.optional(),
    partId: idSchema.optional(),
    tuneId: idSchema.optional(),
    sampleIds: z.array(idSchema).min(1).optional(),
  })
  .refine((side) => side.partId !== undefined || side.tuneId !== undefined, 'a side must name a part or a tune')
export type Side = z.infer<typeof sideSchema>

export const moneySchema = z.strictObject({
  /** What B costs more than A. */
  extraPrice: finiteSchema,
  /** What one percent is worth to the buyer. */
  worthOfOnePercent: finiteSchema.positive().optional(),
  /** Price of A's part alone and of a whole machine with it, for value per price. */
  partPrice: finiteSchema.positive().optional(),
  machinePrice: finiteSchema.positive().optional(),
})

export const gainAboutSchema = z.strictObject({
  a: sideSchema,
  b: sideSchema,
  suiteId: idSchema,
  /** The slot whose samples are the units compared. */
  slot: slotSchema.default('processor'),
  smallestGain: smallestGainSchema,
  money: moneySchema.optional(),
})
export type GainAbout = z.infer<typeof gainAboutSchema>

export const questionSchema = z.strictObject({
  ...recordBase('question'),
  title: nameSchema.optional(),
  /** A question is data: a kind and what it is about. */
  ask: z.discriminatedUnion('kind', [z.strictObject({ kind: z.literal('gain'), about: gainAboutSchema })]),
})
export type Question = z.infer<typeof questionSchema>

export const reportSchema = z.strictObject({
  ...recordBase('report'),
  title: nameSchema,
  number: z.int().positive(),
  at: momentSchema,
  file: nameSchema,
  fileDigest: z.string(),
  answers: z.array(z.strictObject({ questionId: idSchema, snapshotDigest: z.string() })),
})
export type Report = z.infer<typeof reportSchema>
