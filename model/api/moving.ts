// Routes that take a workspace elsewhere and back: backups, exports as downloads, and a new workspace from an export.
import { z } from 'zod'
import { idSchema } from '../ids.ts'
import { momentSchema } from '../records/base.ts'
import { route } from './route.ts'

/** Bytes of an export that the page may send in; a larger one is imported by the command. */
export const IMPORT_LIMIT = 8 * 1024 * 1024 * 1024

export const EXPORT_FORMS = ['archive', 'json', 'csv'] as const

const nothing = z.strictObject({})
const findingSchema = z.strictObject({ place: z.string(), sentence: z.string() })

export const MOVING_ROUTES = {
  moving: route('GET', '/api/moving', nothing, z.strictObject({ lastBackup: z.strictObject({ at: momentSchema, folder: z.string() }).nullable(), /** Files that records name and that are not here. */ missingFiles: z.int() })),
  /** Makes one in a folder of its own beside the workspace; it is on disk and compared when it replies. */
  backup: route('POST', '/api/moving/backup', nothing, z.strictObject({ folder: z.string(), at: momentSchema, digest: z.string(), changes: z.int(), files: z.int(), bytes: z.int(), findings: z.array(findingSchema) })),
  /** Holds database, files and hashes against each other. */
  check: route('POST', '/api/moving/check', nothing, z.strictObject({ findings: z.array(findingSchema) })),
  /** The body is the file that an export gave; the hub serves the workspace that it made of it from then on. Under the id that the page chose it is followed and cancelled. */
  openExport: route('POST', '/api/moving/open', z.strictObject({ file: z.string().max(300), id: idSchema.optional() }), z.strictObject({ lab: z.string(), folder: z.string(), digest: z.string(), missing: z.int() })),
  openProgress: route('GET', '/api/moving/open/:id/progress', nothing, z.strictObject({ doing: z.enum(['receiving', 'reading', 'comparing', 'writing', 'unpacking', 'nothing']), done: z.int().min(0), /** In bytes while an archive is unpacked, otherwise in records; 0 where nobody knows. */ all: z.int().min(0) })),
  /** Stops it; nothing of it stays. */
  openCancel: route('POST', '/api/moving/open/:id/cancel', nothing, z.strictObject({ cancelled: z.boolean() })),
} as const

/** Where an export is had, as a download made while it is sent. */
export function exportPath(form: (typeof EXPORT_FORMS)[number] | ':form'): string {
  return `/api/moving/export/${form}`
}
