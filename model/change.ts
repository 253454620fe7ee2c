// The change log: every change to a lab is one entry (who, when, what, why) with the records before and after; undo is a new change.
import { z } from 'zod'
import { LONGEST_WHAT, LONGEST_WHY } from './change-limits.ts'
import { recordSchema } from './records/index.ts'
import { momentSchema, nameSchema } from './records/base.ts'

export const changeItemSchema = z.strictObject({
  /** Null: the record did not exist before. */
  before: recordSchema.nullable(),
  /** Null: the record is gone after. */
  after: recordSchema.nullable(),
})
export type ChangeItem = z.infer<typeof changeItemSchema>

export const changeSchema = z.strictObject({
  seq: z.int().positive(),
  at: momentSchema,
  who: nameSchema,
  what: z.string().min(1).max(LONGEST_WHAT),
  why: z.string().max(LONGEST_WHY).optional(),
  /** The change that this one takes back. */
  undoes: z.int().positive().optional(),
  items: z.int().min(0),
  /** The standing change that took this one back. */
  undoneBy: z.int().positive().optional(),
})
/** An entry without its items, as lists show it. */
export type Change = z.infer<typeof changeSchema>
