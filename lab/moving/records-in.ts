// Records from outside on their way in: each against its schema, all against the digest that their export states.
import { canonicalJson, recordSchema, SpokenError, type LabRecord } from '@guardband/model'
import { digestOfBodies } from './content-digest.ts'
import { MOVING_FORMAT, type ListedFile } from './format.ts'
import type { MovingProgress, Tell } from './moving-task.ts'

/** What an export gives: all of a workspace's records, found to be those that it was made from. */
export interface RecordsIn {
  readonly records: readonly LabRecord[]
  readonly digest: string
  readonly exported: string
  /** Files that records name and that are not in the export. */
  readonly files: readonly ListedFile[]
}

/** Throws a sentence with the place of the first fault. `place` gets the path of the field within the record. */
export function checkedRecord(value: unknown, place: (field: string) => string): LabRecord {
  const parsed = recordSchema.safeParse(value)
  if (parsed.success) return parsed.data
  const issue = parsed.error.issues[0]
  throw new SpokenError({ code: 'bad-record', place: place(issue?.path.join('.') ?? ''), message: `${issue?.message ?? 'it is not a sound record'}.`, mend: EXPORT_AGAIN })
}

export interface RecordText {
  readonly id: string
  readonly body: string
}

/** The texts that records are stored as: made once, since two digests may be taken over them. */
export function textsOf(records: readonly LabRecord[]): readonly RecordText[] {
  return records.map((record) => ({ id: record.id, body: canonicalJson(record) }))
}

export function digestOfTexts(texts: readonly RecordText[]): string {
  return digestOfBodies(texts.toSorted((a, b) => (a.id < b.id ? -1 : 1)).map(({ body }) => body))
}

/** Tells how far a long list is, not at every record. */
export function tellSome(tell: Tell, doing: MovingProgress['doing'], done: number, all: number): void {
  if (done % RECORDS_A_STEP === 0 || done === all) tell({ doing, done, all })
}

const RECORDS_A_STEP = 1000

export function requireFormat(format: number, file: string): void {
  if (format <= MOVING_FORMAT) return
  throw new SpokenError({ code: 'newer-export', place: file, message: `it is in format ${format}; this program knows formats up to ${MOVING_FORMAT}.`, mend: 'Import it with the newer program that wrote it.' })
}

export function requireOnce(records: readonly LabRecord[], file: string): void {
  const seen = new Set<string>()
  for (const { kind, id } of records) {
    if (seen.has(id)) throw new SpokenError({ code: 'record-twice', place: file, message: `the ${kind} ${id} is in it twice.`, mend: EXPORT_AGAIN })
    seen.add(id)
  }
  const labs = records.filter(({ kind }) => kind === 'lab').length
  if (labs !== 1) throw new SpokenError({ code: 'lab-records', place: file, message: `a workspace has one record of itself; this export has ${labs}.`, mend: EXPORT_AGAIN })
}

export function notAnExport(file: string): SpokenError {
  return new SpokenError({ code: 'not-an-export', place: file, message: 'it is no export of a workspace.', mend: 'Runs from other programs come in with "npx guardband take", or on the page under Runs.' })
}

export const EXPORT_AGAIN = 'Export the workspace again; a file that was changed is not taken in. To correct a record, correct it in the workspace.'
