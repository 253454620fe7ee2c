// Text to lines of cells: finds the separator, checks the header, and counts lines against rows so that no quote can swallow any.
import { CsvError, parse } from 'csv-parse/sync'
import { asColumn, COLUMNS, nearestColumn, type Column } from './columns.ts'
import type { Problems } from './problems.ts'

export interface TableLine {
  /** Line in the file, the header being 1 when nothing stands before it. */
  readonly line: number
  readonly cells: Readonly<Partial<Record<Column, string>>>
}

export interface Table {
  readonly separator: ',' | ';' | '\t'
  readonly columns: ReadonlySet<Column>
  readonly lines: readonly TableLine[]
  /** Open where the file stops within its last line, as one that was cut off does. */
  readonly end: 'closed' | 'open'
}

/** Null when the file can't be read as a table; the problems then say why. */
export function readTable(text: string, problems: Problems): Table | null {
  const physical = text.split(/\r\n|\n|\r/)
  const headerAt = physical.findIndex((line) => line.trim() !== '')
  if (headerAt === -1) {
    problems.add({ line: null }, 'the file is empty.', 'Put a header line and at least one run in it.')
    return null
  }
  if (!quotesClose(physical, problems)) return null
  const separator = findSeparator(physical[headerAt])
  const records = parseRecords(text, separator, problems)
  if (records === null) return null
  const written = physical.filter((line) => line !== '').length
  if (records.length !== written) {
    problems.add({ line: null }, `the file has ${written} lines, but ${records.length} rows were read.`, 'Look for a quote that is not closed.')
    return null
  }
  const filled = records.filter(({ record }) => record.some((cell) => cell.trim() !== ''))
  const [header, ...body] = filled
  const columns = readHeader(header.record, header.line, separator, problems)
  if (columns === null) return null
  if (body.length === 0) {
    problems.add({ line: header.line }, 'the file has a header but no runs.', 'Put at least one run below it.')
    return null
  }
  const lines = body.flatMap(({ record, line }) => {
    const extra = record.slice(columns.length)
    if (record.length < columns.length || extra.some((cell) => cell.trim() !== '')) {
      problems.add({ line }, `the line has ${record.length} cells; the header has ${columns.length}.`, RAGGED_MEND[separator])
      return []
    }
    return [{ line, cells: Object.fromEntries(columns.map((column, index) => [column, record[index].trim()])) }]
  })
  return { separator, columns: new Set(columns), lines, end: physical.at(-1) === '' ? 'closed' : 'open' }
}

interface ParsedRecord {
  readonly record: readonly string[]
  readonly line: number
}

type Separator = Table['separator']
const SEPARATORS: readonly Separator[] = [',', ';', '\t']

const RAGGED_MEND: Readonly<Record<Separator, string>> = {
  ',': 'Put quotes around a value that holds a comma, or separate columns by semicolons.',
  ';': 'Put quotes around a value that holds a semicolon, or add the missing cells.',
  '\t': 'Add the missing cells, or take the extra tab out.',
}

/** The one under which most cells of the header are columns we know; with none known, the one that makes most cells. */
function findSeparator(header: string): Separator {
  const score = (separator: Separator): number => {
    const cells = header.replaceAll('"', '').split(separator)
    return cells.filter((cell) => asColumn(cell) !== undefined).length * MORE_THAN_CELLS + cells.length
  }
  return SEPARATORS.toSorted((a, b) => score(b) - score(a))[0]
}

/** Weighs one known column above any number of cells that a header line may have. */
const MORE_THAN_CELLS = 10_000

/** No cell holds a line break, so every line must hold an even number of quotes: the line that doesn't is where the mend belongs. */
function quotesClose(lines: readonly string[], problems: Problems): boolean {
  let sound = true
  lines.forEach((line, index) => {
    if ((line.split('"').length - 1) % 2 === 0) return
    sound = false
    problems.add({ line: index + 1 }, 'a quote is opened and not closed on this line.', 'Close it, or double a quote that belongs to the text; a cell holds no line break.')
  })
  return sound
}

function parseRecords(text: string, separator: Separator, problems: Problems): readonly ParsedRecord[] | null {
  try {
    // With `info` each record comes with the count of lines read so far; the typings of the library don't follow the option.
    const rows = parse(text, { delimiter: separator, info: true, relax_column_count: true, skip_empty_lines: true, record_delimiter: ['\r\n', '\n', '\r'] }) as unknown as readonly {
      readonly record: readonly string[]
      readonly info: { readonly lines: number }
    }[]
    return rows.map(({ record, info }) => ({ record, line: info.lines }))
  } catch (error) {
    if (!(error instanceof CsvError)) throw error
    const line = typeof error.lines === 'number' ? error.lines : null
    problems.add({ line }, 'a quote stands in the middle of a cell.', 'Put the whole cell in quotes and double the quote inside it.')
    return null
  }
}

function readHeader(cells: readonly string[], line: number, separator: Separator, problems: Problems): readonly Column[] | null {
  const found: Column[] = []
  let sound = true
  let end = cells.length
  while (end > 0 && cells[end - 1].trim() === '') end -= 1
  if (!cells.some((cell) => asColumn(cell) !== undefined)) {
    problems.add({ line }, 'the first line names no column that is known.', `Name the columns there, at least ${REQUIRED.map((needed) => needed.join(' or ')).join(', ')}.`)
    return null
  }
  for (const cell of cells.slice(0, end)) {
    const column = asColumn(cell)
    if (column === undefined) {
      const near = nearestColumn(cell)
      problems.add({ line, column: cell.trim() }, `there is no column "${cell.trim()}".`, near === undefined ? `The columns are: ${COLUMNS.join(', ')}.` : `Did you mean "${near}"?`)
      sound = false
    } else if (found.includes(column)) {
      problems.add({ line, column }, `the column "${column}" comes twice.`, 'Keep one of them.')
      sound = false
    } else found.push(column)
  }
  const names = separator === '\t' ? 'tabs' : separator === ';' ? 'semicolons' : 'commas'
  for (const needed of REQUIRED) {
    if (needed.some((column) => found.includes(column)) || !sound) continue
    const name = needed.join('" or "')
    problems.add({ line }, `the column "${name}" is missing.`, `Add it to the header (read as separated by ${names}).`)
    sound = false
  }
  return sound ? found : null
}

/** Of each group at least one. */
const REQUIRED: readonly (readonly Column[])[] = [['sample'], ['tune', 'part'], ['start'], ['workload'], ['value', 'outcome']]
