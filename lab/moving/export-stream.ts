// What a workspace holds at one moment as a stream, in any of the three forms.
import { Readable } from 'node:stream'
import { csvZip } from './export-csv.ts'
import { jsonLines } from './export-json.ts'
import { openReader, type LabReader } from './lab-reader.ts'
import type { ExportForm } from './moving-book.ts'
import { inPieces } from './text-pieces.ts'
import { archiveStream } from './write-archive.ts'

export async function exportStream(folder: string, { form, exported }: { readonly form: ExportForm; readonly exported: string }): Promise<Readable> {
  if (form === 'archive') return archiveStream(folder, exported)
  const reader = openReader(folder)
  return form === 'csv' ? csvZip(reader, exported) : Readable.from(inPieces(closing(reader, jsonLines(reader, exported))), { objectMode: false })
}

/** Closes the reader when its lines are over, or nobody wants more. */
function* closing(reader: LabReader, lines: Iterable<string>): Generator<string> {
  try {
    yield* lines
  } finally {
    reader.close()
  }
}
