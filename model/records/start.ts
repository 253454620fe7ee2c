// A start: one power-on of a rig (or a live change with no power-on between), with its memory training and conditions.
import { z } from 'zod'
import { idSchema } from '../ids.ts'
import { finiteSchema, momentSchema, nameSchema, recordBase } from './base.ts'

export const startHowSchema = z.enum(['cold', 'warm', 'restored', 'live'])
export type StartHow = z.infer<typeof startHowSchema>

export const trainingSchema = z.strictObject({
  result: z.enum(['full', 'restored', 'failed', 'fallback', 'unknown']),
  tries: z.int().min(0).max(1000).optional(),
  seconds: finiteSchema.min(0).optional(),
  postCode: z.string().max(20).optional(),
})

/** What surrounds a start. Firmware, system image and drivers together make its epoch. */
export const conditionsSchema = z.strictObject({
  firmware: z.string().max(200).optional(),
  microcode: z.string().max(100).optional(),
  systemImage: z.string().max(200).optional(),
  /** What the system runs on; with the image, part of its name. */
  kernel: z.string().max(200).optional(),
  drivers: z.string().max(500).optional(),
  /** How much, in how many modules, at what data rate. */
  memory: z.string().max(500).optional(),
  powerPlan: z.string().max(100).optional(),
  cooling: z.string().max(200).optional(),
  /** degC */
  ambient: finiteSchema.min(-100).max(100).optional(),
  /** degC */
  coolant: finiteSchema.min(-200).max(200).optional(),
  /** percent */
  humidity: finiteSchema.min(0).max(100).optional(),
  fans: z.string().max(200).optional(),
  graphicsClocks: z.string().max(100).optional(),
})
export type Conditions = z.infer<typeof conditionsSchema>

export const startSchema = z.strictObject({
  ...recordBase('start'),
  rigId: idSchema,
  assemblyId: idSchema,
  mountId: idSchema.optional(),
  /** The tune that was asked for; what came of it is in the in-force records. */
  tuneId: idSchema.optional(),
  /** Absent when an import gives no time. */
  at: momentSchema.optional(),
  /** Order among the starts of an import or journal, where times are missing or untrusted. */
  order: z.int().min(0).optional(),
  how: startHowSchema,
  result: z.enum(['started', 'no start', 'fallback start', 'system fails to load']).default('started'),
  training: trainingSchema.optional(),
  conditions: conditionsSchema.default({}),
  /** How the rig's clock stood to another one, by seconds to add to it; the times of the start and its runs are the rig's own. */
  clock: z.strictObject({ against: nameSchema, offset: finiteSchema, within: finiteSchema.min(0) }).optional(),
  /** Where the record came from: a journal's id, an import's file name, "entered". */
  source: z.string().max(300).optional(),
})
export type Start = z.infer<typeof startSchema>
