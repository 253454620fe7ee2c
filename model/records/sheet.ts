// A sheet: the starts that a person means to make by hand, in order, with the workloads and repeats of each. The entry grid and the bench view on a phone work it off.
import { z } from 'zod'
import { idSchema } from '../ids.ts'
import { momentSchema, nameSchema, recordBase } from './base.ts'
import { slotSchema } from './parts.ts'
import { conditionsSchema, startHowSchema } from './start.ts'

/** One start to be made; `startId` names the start record once it was made. */
export const sheetStartSchema = z.strictObject({
  /** Also the id that the start's record gets. */
  startId: idSchema,
  tuneId: idSchema,
  how: startHowSchema,
  /** What must sit in the rig. */
  slots: z.array(z.strictObject({ slot: slotSchema, position: z.string().max(40).optional(), sampleId: idSchema })).min(1),
  /** Left out by a person, with the reason. */
  skipped: z.string().trim().min(1).max(2000).optional(),
})
export type SheetStart = z.infer<typeof sheetStartSchema>

export const sheetSchema = z.strictObject({
  ...recordBase('sheet'),
  name: nameSchema,
  rigId: idSchema,
  at: momentSchema,
  suiteId: idSchema.optional(),
  /** In the order in which they are run within a start. */
  workloadIds: z.array(idSchema).min(1).max(100),
  repeats: z.int().min(1).max(100),
  starts: z.array(sheetStartSchema).min(1).max(1000),
  /** Carried forward into each start until they change. */
  conditions: conditionsSchema.default({}),
})
export type Sheet = z.infer<typeof sheetSchema>
