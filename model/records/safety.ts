// What may not be passed, and what a sample was given: ceilings by domain, and doses.
import { z } from 'zod'
import { idSchema } from '../ids.ts'
import { finiteSchema, knownSchema, momentSchema, nameSchema, recordBase } from './base.ts'
import { slotSchema } from './parts.ts'

/** The bounds of one domain ("core voltage", "memory voltage", "package power"): every setting that it names must lie between them. */
export const ceilingSchema = z.strictObject({
  ...recordBase('ceiling'),
  /** The domain. */
  name: nameSchema,
  /** Keys of the settings that fall into it, compared without regard to case. */
  settings: z.array(nameSchema).min(1),
  unit: z.string().max(20),
  highest: finiteSchema.optional(),
  lowest: finiteSchema.optional(),
  /** Holds for these only; without them, for every part. */
  slot: slotSchema.optional(),
  partId: idSchema.optional(),
  /** The way of cooling that it holds for, as a start's conditions name it; without it, for any. */
  cooling: z.string().max(200).optional(),
  /** degC of the part that the figures were given for. Below the lowest they say nothing, and the part counts as run cold; above the highest they go on to hold. */
  lowestTemperature: finiteSchema.optional(),
  highestTemperature: finiteSchema.optional(),
  /** Longest time at a value above `lowest`, in hours: `lowest` is then where the counting begins, and no bound. */
  hours: finiteSchema.positive().optional(),
  /** Where the figure comes from: a maker's sheet, the house. */
  source: z.string().max(500).optional(),
})
export type Ceiling = z.infer<typeof ceilingSchema>

/** What one sample was given in one stretch: volts x degrees x hours. */
export const doseSchema = z.strictObject({
  ...recordBase('dose'),
  sampleId: idSchema,
  startId: idSchema.optional(),
  at: momentSchema,
  /** The setting whose voltage it is. */
  setting: nameSchema,
  volts: finiteSchema.min(0).max(20),
  /** degC; absent when nobody recorded it. */
  temperature: finiteSchema.min(-273.15).max(300).optional(),
  hours: finiteSchema.positive().max(100_000),
  known: knownSchema,
})
export type Dose = z.infer<typeof doseSchema>
