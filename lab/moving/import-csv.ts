// Reads the zip of CSV files that an export made: every fault is told with its file, line and column.
import { parse } from 'csv-parse/sync'
import { SpokenError, type LabRecord } from '@guardband/model'
import { leafOf, setLeafInto } from './flat-record.ts'
import { csvManifestSchema, MANIFEST, type CsvManifest, type KindFile } from './format.ts'
import { JSON_LIMIT } from './import-json.ts'
import type { Tell } from './moving-task.ts'
import { checkedRecord, digestOfTexts, EXPORT_AGAIN, requireFormat, requireOnce, tellSome, textsOf, type RecordsIn, type RecordText } from './records-in.ts'
import type { OpenZip } from './zip-reader.ts'

export async function recordsOfCsv(zip: OpenZip, manifestValue: unknown, shown: string, tell: Tell): Promise<RecordsIn> {
  const manifest = manifestOf(manifestValue, shown)
  const records: LabRecord[] = []
  const texts: RecordText[] = []
  const all = manifest.kinds.reduce((sum, { rows }) => sum + rows, 0)
  let bytes = 0
  for (const kind of manifest.kinds) {
    bytes += zip.bytes(kind.file)
    if (bytes > JSON_LIMIT) throw new SpokenError({ code: 'export-too-large', place: shown, message: `an export of records must be at most ${JSON_LIMIT / (1024 * 1024)} MB unpacked; got more.`, mend: 'Move the workspace as an archive.' })
    const place = `${shown}, ${kind.file}`
    const found = recordsOfKind(await zip.text(kind.file, JSON_LIMIT), kind, place, (row) => tellSome(tell, 'reading', records.length + row, all))
    const own = textsOf(found)
    if (digestOfTexts(own) !== kind.digest) throw new SpokenError({ code: 'digest-differs', place, message: 'its rows are not those that were exported: their content digest differs from the one that the export states.', mend: EXPORT_AGAIN })
    for (const record of found) records.push(record)
    for (const text of own) texts.push(text)
  }
  requireOnce(records, shown)
  tell({ doing: 'comparing', done: 0, all: 0 })
  const digest = digestOfTexts(texts)
  if (digest !== manifest.digest) throw new SpokenError({ code: 'digest-differs', place: shown, message: 'its records are not those that were exported: their content digest differs from the one that it states.', mend: EXPORT_AGAIN })
  return { records, digest, exported: manifest.exported, files: manifest.files }
}

function manifestOf(value: unknown, shown: string): CsvManifest {
  if (typeof value === 'object' && value !== null && 'format' in value && typeof value.format === 'number') requireFormat(value.format, shown)
  const parsed = csvManifestSchema.safeParse(value)
  if (parsed.success) return parsed.data
  const issue = parsed.error.issues[0]
  throw new SpokenError({ code: 'export-head', place: `${shown}, ${MANIFEST}${issue === undefined || issue.path.length === 0 ? '' : `, "${issue.path.join('.')}"`}`, message: `${issue?.message ?? 'it is not laid out as an export'}.`, mend: EXPORT_AGAIN })
}

function recordsOfKind(text: string, { kind, rows: wanted, columns }: KindFile, place: string, tellRow: (row: number) => void): readonly LabRecord[] {
  const [header, ...rows] = cellsOf(text, place)
  if (header === undefined || header.cells.length !== columns.length || columns.some(({ name }, at) => header.cells[at] !== name)) {
    throw new SpokenError({ code: 'csv-header', place: `${place}, line 1`, message: 'its columns are not those that were exported.', mend: EXPORT_AGAIN })
  }
  if (rows.length !== wanted) throw new SpokenError({ code: 'csv-rows', place, message: `it must have ${wanted} rows below its header; it has ${rows.length}.`, mend: EXPORT_AGAIN })
  return rows.map(({ line, cells }, row) => {
    tellRow(row + 1)
    const record: Record<string, unknown> = { kind }
    for (const [at, { name, as }] of columns.entries()) {
      const cell = cells[at] ?? ''
      if (cell === '') continue
      const read = leafOf(cell, as)
      if ('wrong' in read) throw new SpokenError({ code: 'csv-cell', place: `${place}, line ${line}, column "${name}"`, message: `it ${read.wrong}.`, mend: EXPORT_AGAIN })
      setLeafInto(record, name, read.leaf)
    }
    return checkedRecord(record, (field) => `${place}, line ${line}${field === '' ? '' : `, column "${field}"`}`)
  })
}

interface Row {
  readonly line: number
  readonly cells: readonly string[]
}

function cellsOf(text: string, place: string): readonly Row[] {
  try {
    let line = 1
    const found = parse(text, { bom: true, info: true, record_delimiter: ['\r\n', '\n'] }) as unknown as readonly { readonly record: readonly string[]; readonly info: { readonly lines: number } }[]
    return found.map(({ record, info }) => {
      const row = { line, cells: record }
      // The parser counts the lines up to the end of a row; a cell may hold several.
      line = info.lines + 1
      return row
    })
  } catch (error) {
    const at = error instanceof Error && 'lines' in error && typeof error.lines === 'number' ? `, line ${error.lines}` : ''
    throw new SpokenError({ code: 'csv-damaged', place: `${place}${at}`, message: 'it is no CSV from here on: a quote is missing, or a row has more or fewer cells than the header.', mend: EXPORT_AGAIN })
  }
}
