// Reads a JSON export: every fault is told with its line, and nothing is given on unless all of it is sound.
import { canonicalJson, SpokenError } from '@guardband/model'
import { LINES_BEFORE_RECORDS } from './export-json.ts'
import { jsonHeadSchema } from './format.ts'
import type { Tell } from './moving-task.ts'
import { checkedRecord, digestOfTexts, EXPORT_AGAIN, notAnExport, requireFormat, requireOnce, tellSome, textsOf, type RecordsIn } from './records-in.ts'

/** Bytes of one export; the engine holds no longer text. A larger workspace travels as an archive. */
export const JSON_LIMIT = 500 * 1024 * 1024

export function recordsOfJson(bytes: Uint8Array, file: string, tell: Tell): RecordsIn {
  const text = decode(bytes, file)
  const head = headOf(parse(text, file), file)
  const placeOf = (index: number): string => {
    const line = text.split('\n')[LINES_BEFORE_RECORDS + index]?.replace(/,?\r?$/, '')
    // Only in a file laid out as it was written does a record have a line of its own.
    return line !== undefined && isText(line, head.records[index]) ? `${file}, line ${LINES_BEFORE_RECORDS + index + 1}` : `${file}, record ${index + 1}`
  }
  const records = head.records.map((value, index) => {
    tellSome(tell, 'reading', index + 1, head.records.length)
    return checkedRecord(value, (field) => `${placeOf(index)}${field === '' ? '' : `, "${field}"`}`)
  })
  requireOnce(records, file)
  if (records.length !== head.count) throw new SpokenError({ code: 'record-count', place: file, message: `it must hold ${head.count} records; it holds ${records.length}.`, mend: EXPORT_AGAIN })
  tell({ doing: 'comparing', done: 0, all: 0 })
  const digest = digestOfTexts(textsOf(records))
  if (digest !== head.digest) throw new SpokenError({ code: 'digest-differs', place: file, message: 'its records are not those that were exported: their content digest differs from the one that it states.', mend: EXPORT_AGAIN })
  return { records, digest, exported: head.exported, files: head.files }
}

function decode(bytes: Uint8Array, file: string): string {
  if (bytes.byteLength > JSON_LIMIT) throw new SpokenError({ code: 'export-too-large', place: file, message: `an export of records must be at most ${JSON_LIMIT / (1024 * 1024)} MB; got more.`, mend: 'Move the workspace as an archive.' })
  try {
    return new TextDecoder('utf-8', { fatal: true }).decode(bytes)
  } catch {
    throw new SpokenError({ code: 'export-encoding', place: file, message: 'it must be UTF-8; got bytes that are not.', mend: EXPORT_AGAIN })
  }
}

function parse(text: string, file: string): unknown {
  // What begins otherwise was never an export; a place in it would help nobody.
  if (/^\s*[^\s{]/.test(text)) throw notAnExport(file)
  try {
    return JSON.parse(text)
  } catch (error) {
    throw new SpokenError({ code: 'export-json', place: `${file}, ${faultPlace(error, text)}`, message: 'from here on it is no JSON: it was cut or changed.', mend: EXPORT_AGAIN })
  }
}

/** The engine says "(line 5 column 10)" or "at position 123", and nothing where the text simply ends. */
function faultPlace(error: unknown, text: string): string {
  const said = error instanceof Error ? error.message : ''
  const place = /\(line (\d+) column (\d+)\)/.exec(said)
  if (place !== null) return `line ${place[1]}, column ${place[2]}`
  const position = /at position (\d+)/.exec(said)
  const before = text.slice(0, position === null ? text.length : Number(position[1]))
  const line = before.split('\n').length
  return `line ${line}, column ${before.length - before.lastIndexOf('\n')}`
}

function headOf(value: unknown, file: string): ReturnType<typeof jsonHeadSchema.parse> {
  if (typeof value !== 'object' || value === null || !('guardband' in value) || value.guardband !== 'records') {
    throw notAnExport(file)
  }
  if ('format' in value && typeof value.format === 'number') requireFormat(value.format, file)
  const parsed = jsonHeadSchema.safeParse(value)
  if (parsed.success) return parsed.data
  const issue = parsed.error.issues[0]
  throw new SpokenError({ code: 'export-head', place: `${file}${issue === undefined || issue.path.length === 0 ? '' : `, "${issue.path.join('.')}"`}`, message: `${issue?.message ?? 'it is not laid out as an export'}.`, mend: EXPORT_AGAIN })
}

function isText(line: string, value: unknown): boolean {
  try {
    return canonicalJson(JSON.parse(line)) === canonicalJson(value)
  } catch {
    return false
  }
}
