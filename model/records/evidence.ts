// A picture or file that stands beside records: kept by its content's hash, so it can't change unseen.
import { z } from 'zod'
import { idSchema } from '../ids.ts'
import { momentSchema, nameSchema, recordBase } from './base.ts'

export const sha256Schema = z.string().regex(/^[0-9a-f]{64}$/, 'must be a SHA-256 in lower-case hex')

export const evidenceSchema = z.strictObject({
  ...recordBase('evidence'),
  sha256: sha256Schema,
  /** As it was called where it came from. */
  name: nameSchema,
  mediaType: z.string().min(3).max(100),
  bytes: z.int().min(0),
  at: momentSchema,
  by: nameSchema,
  /** Records that it speaks of. */
  about: z.array(idSchema).max(200),
  /** A small JPEG or PNG of a picture, kept like it by its hash. */
  thumbnail: sha256Schema.optional(),
})
export type Evidence = z.infer<typeof evidenceSchema>
