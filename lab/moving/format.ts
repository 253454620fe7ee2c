// What exports and archives look like: their marks, their numbers, and the schemas by which they are read again.
import { z } from 'zod'
import { momentSchema, recordSchema, sha256Schema, type RecordKind } from '@guardband/model'

/** Rises when a reader of the one before would misread what is written. */
export const MOVING_FORMAT = 1

/** Every kind of record, in the order in which a reader meets them: what others refer to comes first. */
export const KINDS: readonly RecordKind[] = recordSchema.options.map((option) => option.shape.kind.value)

const lab = z.strictObject({ name: z.string(), simulated: z.boolean() })

/** Files that records name. They travel in an archive, and are only listed in an export of records. */
export const listedFileSchema = z.strictObject({ path: z.string().max(500), bytes: z.int().min(0).nullable(), name: z.string() })
export type ListedFile = z.infer<typeof listedFileSchema>

/** What stands around the records of a JSON export. */
export const jsonHeadSchema = z.strictObject({
  guardband: z.literal('records'),
  format: z.int().positive(),
  exported: momentSchema,
  lab,
  digest: sha256Schema,
  count: z.int().min(1),
  records: z.array(z.unknown()),
  files: z.array(listedFileSchema),
})

export const columnSchema = z.strictObject({
  name: z.string().regex(/^[a-z][A-Za-z0-9]*(?:\.[a-z][A-Za-z0-9]*)*$/, 'must be names with dots between them').max(200),
  as: z.enum(['text', 'number', 'true or false', 'json']),
})
export type Column = z.infer<typeof columnSchema>

export const kindFileSchema = z.strictObject({
  kind: z.enum(KINDS as readonly [RecordKind, ...RecordKind[]]),
  file: z.string().regex(/^records\/[a-z-]+\.csv$/).max(100),
  rows: z.int().positive(),
  /** Over the records of this kind. */
  digest: sha256Schema,
  columns: z.array(columnSchema).min(1).max(500),
})
export type KindFile = z.infer<typeof kindFileSchema>

/** `manifest.json` of the zip of CSV files. */
export const csvManifestSchema = z.strictObject({
  guardband: z.literal('records as csv'),
  format: z.int().positive(),
  exported: momentSchema,
  lab,
  digest: sha256Schema,
  kinds: z.array(kindFileSchema).min(1).max(KINDS.length),
  files: z.array(listedFileSchema),
})
export type CsvManifest = z.infer<typeof csvManifestSchema>

/** The folders of a workspace whose files travel with it. */
export const FILE_FOLDERS = ['evidence', 'journals', 'logs', 'reports'] as const

export const archivedFileSchema = z.strictObject({
  path: z.string().max(500),
  bytes: z.int().min(0),
  sha256: sha256Schema,
})
export type ArchivedFile = z.infer<typeof archivedFileSchema>

/** `manifest.json` of an archive. */
export const archiveManifestSchema = z.strictObject({
  guardband: z.literal('workspace'),
  format: z.int().positive(),
  exported: momentSchema,
  lab,
  digest: sha256Schema,
  changes: z.int().min(0),
  files: z.array(archivedFileSchema).min(1).max(1_000_000),
})
export type ArchiveManifest = z.infer<typeof archiveManifestSchema>

export const MANIFEST = 'manifest.json'
export const RECORDS_FOLDER = 'records'

/** "in force" -> "records/in-force.csv". */
export function fileOfKind(kind: RecordKind): string {
  return `${RECORDS_FOLDER}/${kind.replaceAll(' ', '-')}.csv`
}
