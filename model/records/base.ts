// What every record shares: an id, a kind, and the small types that several records use.
import { z } from 'zod'
import { idSchema } from '../ids.ts'

/** A moment: ISO 8601 with offset or Z. */
export const momentSchema = z.iso.datetime({ offset: true })

export const nameSchema = z.string().trim().min(1).max(200)

/** Free text that a person wrote. */
export const noteSchema = z.string().max(10_000)

export const finiteSchema = z.number()

/** How a value in force is known. Ordered from best to worst. */
export const knownSchema = z.enum(['read back', 'measured', 'seen by a person', 'unverified'])
export type Known = z.infer<typeof knownSchema>

export const minutesSchema = z.number().min(0).max(1_000_000)

/** The fields that open every record of a kind. */
export function recordBase<Kind extends string>(kind: Kind) {
  return { kind: z.literal(kind), id: idSchema, note: noteSchema.optional() }
}
