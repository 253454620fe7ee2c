// Routes over evidence: pictures and files beside records, sent as they are and kept by their hash.
import { z } from 'zod'
import { idSchema } from '../ids.ts'
import { evidenceSchema } from '../records/evidence.ts'
import { THUMBNAIL_LIMIT } from './evidence-limits.ts'
import { noteSchema } from '../records/base.ts'
import { route } from './route.ts'

export * from './evidence-limits.ts'

export const sentEvidenceSchema = z.strictObject({
  /** Sent again under the same one, the file is kept once. */
  request: idSchema,
  /** As it is called where it comes from; of a path only its last part is kept. */
  name: z.string().max(1000),
  type: z.string().max(200).default(''),
  /** Ids of the records that it speaks of, with commas between them. */
  about: z.string().min(1).max(8000),
  note: noteSchema.optional(),
  /** So many bytes at the head of the body are the thumbnail; the file follows. */
  thumbnail: z.coerce.number().int().min(0).max(THUMBNAIL_LIMIT).default(0),
})
export type SentEvidence = z.infer<typeof sentEvidenceSchema>

export const EVIDENCE_ROUTES = {
  /** What stands beside one record, oldest first. */
  evidence: route('GET', '/api/evidence', z.strictObject({ about: idSchema }), z.strictObject({ evidence: z.array(evidenceSchema) })),
  /** The body is the thumbnail, if there is one, and then the file; the query says the rest. File and record are on disk when it replies. */
  keepEvidence: route('POST', '/api/evidence', sentEvidenceSchema, z.strictObject({ evidence: evidenceSchema, change: z.int() })),
} as const

/** Where the file itself is had, as a download. */
export function evidenceFilePath(id: string): string {
  return `/api/evidence/${id}/file`
}

/** Where its small picture is had. */
export function thumbnailPath(id: string): string {
  return `/api/evidence/${id}/thumbnail`
}
