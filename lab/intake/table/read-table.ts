// Text to typed rows: finds the table, reads it as a person said, as its layout is remembered, or as guessed, asks what nobody may guess, and accounts for every line.
import { contentDigest, SpokenError, type GivenField, type IntakeChoices, type IntakeQuestion, type IntakeReply, type LineCount, type RunsColumn, type RunsLayout, type Separator, type TableReading } from '@guardband/model'
import type { DecodedTable } from './decode-table.ts'
import { findHeader, findSeparator, isBlank, reasonToLeaveOut } from './find-table.ts'
import { guessColumns, headerCells, type KnownNames } from './guess-columns.ts'
import { createMomentReader, findDateOrder } from './moments.ts'
import { createNumberReader, findNumberStyle, type NumberCell } from './numbers.ts'
import { foldOutcome } from './outcome-words.ts'
import type { Problems } from './problems.ts'
import { createRowReader, type RowReader, type RunLine } from './read-rows.ts'
import { countLines, splitRows, type Row } from './split-rows.ts'
import { columnQuestions, questionsOfStyle, wordQuestions } from './table-questions.ts'

export interface TableNeeds {
  readonly choices: IntakeChoices
  readonly known: KnownNames
  /** The layout that is remembered for tables with this fingerprint. */
  readonly layoutOf: (fingerprint: string) => { readonly name: string; readonly of: RunsLayout } | undefined
  readonly problems: Problems
  /** Called with the share of the lines that have been read; may throw to stop. */
  readonly onProgress: (done: number) => void
  /** The zone of the person's own clock, offered first. */
  readonly homeZone: string
}

export interface ReadTable {
  readonly fingerprint: string
  readonly reading: TableReading
  readonly runs: readonly RunLine[]
  readonly questions: readonly IntakeQuestion[]
  readonly remarks: readonly string[]
  readonly leftOut: IntakeReply['leftOut']
  /** Lines that hold runs, as the file has them. */
  readonly dataLines: number
  /** Call when all problems are known: lines with one are rejected, the rest of them is taken. */
  readonly lineCount: () => LineCount
  readonly end: 'closed' | 'open'
}

/** Null when the file can't be read as a table; the problems then say why. */
export function readTable({ text, encoding, how }: DecodedTable, needs: TableNeeds): ReadTable | null {
  const { problems, known } = needs
  if (text.trim() === '') {
    problems.add({ line: null }, 'the file is empty.', 'Put a header line and at least one run in it.')
    return null
  }
  const { separator, usualCells } = findSeparator(text, needs.choices.separator)
  const { rows, brokenLines } = splitRows(text, { separator, usualCells }, problems)
  const found = findHeader(rows, usualCells, needs.choices.headerLine)
  if (found === undefined) {
    problems.add({ line: needs.choices.headerLine ?? null }, 'no line names the columns.', 'Put a line above the runs that names them, such as sample, tune, start, workload, value; or say which line it is.')
    return null
  }
  const { header, units } = found
  const data: Row[] = []
  const counts = { head: 0, blank: 0, leftOut: 0 }
  const leftOut: { line: number; reason: string }[] = []
  for (const row of rows) {
    if (isBlank(row)) counts.blank += row.span
    else if (row.line <= header.line || row === units) counts.head += row.span
    else {
      const reason = reasonToLeaveOut(row, header)
      if (reason === undefined) data.push(row)
      else {
        counts.leftOut += row.span
        leftOut.push({ line: row.line, reason })
      }
    }
  }
  const headers = headerCells(header)
  if (headers.length > MOST_COLUMNS) {
    problems.add({ line: header.line }, `the header names ${headers.length} columns; at most ${MOST_COLUMNS} are read.`, 'Turn the table round, so that each of them is a line.')
    return null
  }
  if (data.length === 0) {
    if (brokenLines === 0) problems.add({ line: header.line }, 'the file has a header but no runs.', 'Put at least one run below it.')
    return null
  }
  const fingerprint = contentDigest(['runs', ...headers.map((cell) => cell.toLowerCase())])
  const layout = needs.layoutOf(fingerprint)
  const choices = withLayout(needs.choices, layout?.of)
  const guessed = guessColumns({ header, units, rows: data }, known, choices.wide)
  const columns = mergeColumns(headers, guessed.columns, choices.columns)
  for (const { header: called, as } of columns) if (as !== 'measure' && as !== 'left out') problems.call(as, called)
  if (!namesAreOnce(headers, columns, header.line, problems)) return null

  const measured = cellsOf(data, columns, (as) => as === 'measure' || as === 'value' || as === 'seconds' || as === 'ambient' || as === 'order')
  const style = findNumberStyle(measured, separator, choices)
  const dates = findDateOrder(cellsOf(data, columns, (as) => as === 'time' || as === 'date'), choices.dates)
  const said = new Map((choices.outcomes ?? []).map(({ word, outcome }) => [foldOutcome(word), outcome]))
  const given = choices.given ?? {}
  const open = choices.columns === undefined ? guessed.open : []
  const asked = columnQuestions({ columns, open, choices, given, known, repeats: hasRepeats(columns) })
  const reader = createRowReader({
    columns, given, starts: choices.starts, said, problems,
    asked: new Set(asked.map(({ about }) => (about.choice === 'given' ? about.field : about.choice === 'starts' ? 'start' : 'value'))),
    // While it is asked, nothing else is wrong with such a number.
    number: createNumberReader(style.open?.about === 'thousands' ? { ...style.style, thousands: style.style.decimal === ',' ? '.' : ',' } : style.style),
    moment: createMomentReader({ order: dates.order, zone: choices.zone }),
  })
  const read = readAll(data, headers.length, { reader, columns, separator, needs })
  leftOut.push(...read.leftOut)
  const questions = [
    ...asked,
    ...questionsOfStyle({ number: style.open, date: dates.open, time: reader.timesWithoutZone(), homeZone: needs.homeZone }),
    ...wordQuestions(reader.unknownWords()),
  ]
  if (reader.unknownWords().size > MOST_WORDS) complainOfWords(reader, problems)
  const dataSpan = data.reduce((sum, row) => sum + row.span, 0)
  const all = countLines(text)
  return {
    fingerprint,
    reading: {
      encoding, separator, headerLine: header.line, ...style.style,
      dates: dates.order ?? null, zone: choices.zone ?? null, starts: choices.starts ?? null, given: { ...given },
      columns: columns.map((column, index) => ({ ...column, first: firstCells(data, index) })),
      outcomes: [...reader.usedWords()].flatMap(([word, { meaning, count }]) => (meaning === word.toLowerCase() ? [] : [{ word: word.slice(0, 200), outcome: meaning === 'well' ? 'passed' as const : meaning, count }])),
      layout: layout?.name ?? null,
    },
    runs: read.runs,
    questions: questions.length > MOST_QUESTIONS ? questions.slice(0, MOST_QUESTIONS) : questions,
    remarks: [...encodingRemarks(encoding, how, text), ...readingRemarks(columns, layout?.name, read.short, reader.daysOnly())],
    leftOut: leftOut.toSorted((a, b) => a.line - b.line),
    dataLines: dataSpan,
    lineCount: () => reconcile({ all, ...counts, leftOut: counts.leftOut + read.leftOutSpan, data, dataSpan: dataSpan - read.leftOutSpan, brokenLines }, problems),
    end: text.endsWith('\n') ? 'closed' : 'open',
  }
}

/** As many as a remembered layout holds. */
const MOST_COLUMNS = 1000
/** More open words than this are no words of outcomes: the column is another one. */
const MOST_WORDS = 12
const MOST_QUESTIONS = 30
const FIRST_SHOWN = 3

interface ReadingNeeds {
  readonly reader: RowReader
  readonly columns: readonly RunsColumn[]
  readonly separator: Separator
  readonly needs: TableNeeds
}

function readAll(data: readonly Row[], width: number, { reader, columns, separator, needs: { problems, onProgress } }: ReadingNeeds) {
  const runs: RunLine[] = []
  const leftOut: { line: number; reason: string }[] = []
  let leftOutSpan = 0
  let short = 0
  data.forEach((row, index) => {
    if (index % ROWS_A_STEP === 0) onProgress(index / data.length)
    if (row.cells.length !== width) {
      const extra = row.cells.slice(width).some((cell) => cell.trim() !== '')
      const lost = columns.slice(row.cells.length).some(({ as }) => NEEDED.has(as))
      if (extra || lost) {
        problems.add({ line: row.line }, `the line has ${row.cells.length} cells; the header has ${width}.`, RAGGED_MEND[separator])
        return
      }
      if (row.cells.length < width) short += 1
    }
    const read = reader.read(row)
    for (const run of read.runs) runs.push(run)
    if (read.leftOut === undefined) return
    leftOut.push({ line: row.line, reason: read.leftOut })
    leftOutSpan += row.span
  })
  return { runs, leftOut, leftOutSpan, short }
}

const ROWS_A_STEP = 2000
/** A line that ends before one of these lost something. */
const NEEDED: ReadonlySet<string> = new Set(['sample', 'start', 'workload', 'value'])

const RAGGED_MEND: Readonly<Record<Separator, string>> = {
  ',': 'Put quotes around a value that holds a comma, or separate columns by semicolons.',
  ';': 'Put quotes around a value that holds a semicolon, or add the missing cells.',
  '\t': 'Add the missing cells, or take the extra tab out.',
  '|': 'Put quotes around a value that holds a bar, or add the missing cells.',
}

function cellsOf(data: readonly Row[], columns: readonly RunsColumn[], wanted: (as: string) => boolean): (look: (found: NumberCell) => void) => void {
  const indexes = columns.flatMap(({ as }, index) => (wanted(as) ? [index] : []))
  const found = { cell: '', line: 0, column: '' }
  return (look) => {
    for (const row of data) {
      for (const index of indexes) {
        found.cell = row.cells[index]?.trim() ?? ''
        if (found.cell === '') continue
        found.line = row.line
        found.column = columns[index].header
        look(found)
      }
    }
  }
}

function firstCells(data: readonly Row[], index: number): string[] {
  return data.slice(0, FIRST_SHOWN).map((row) => (row.cells[index] ?? '').trim().slice(0, CELL_SHOWN))
}

const CELL_SHOWN = 60

/** What a person says comes before what was remembered. */
function withLayout(choices: IntakeChoices, layout: RunsLayout | undefined): IntakeChoices {
  if (layout === undefined) return choices
  const { use: _use, given, outcomes, ...rest } = layout
  return { ...rest, ...choices, outcomes: [...outcomes, ...(choices.outcomes ?? [])], given: { ...given, ...choices.given } }
}

/** By header, the first of several with one name first; what was said of columns that this reading does not have is not needed. */
function mergeColumns(headers: readonly string[], guessed: readonly RunsColumn[], said: readonly RunsColumn[] | undefined): readonly RunsColumn[] {
  if (said === undefined) return guessed
  const left = Map.groupBy(said, ({ header }) => header.toLowerCase())
  return headers.map((header, index) => left.get(header.toLowerCase())?.shift() ?? guessed[index])
}

function namesAreOnce(headers: readonly string[], columns: readonly RunsColumn[], line: number, problems: Problems): boolean {
  let sound = true
  headers.forEach((header, index) => {
    const first = headers.findIndex((other) => other.toLowerCase() === header.toLowerCase())
    if (first === index || header === '' || columns[first].as === 'left out') return
    problems.add({ line, column: header }, `the column "${header}" comes twice.`, 'Keep one of them.')
    sound = false
  })
  return sound
}

function hasRepeats(columns: readonly RunsColumn[]): boolean {
  return columns.some(({ as, repeat }) => as === 'repeat' || repeat !== undefined)
}

function complainOfWords(reader: RowReader, problems: Problems): void {
  for (const [word, { line, column }] of [...reader.unknownWords()].slice(0, MOST_WORDS)) problems.add({ line, column }, `"${word}" is not a number.`, 'Say that the column is something else, or write numbers into it.')
}

function encodingRemarks(encoding: DecodedTable['encoding'], how: DecodedTable['how'], text: string): readonly string[] {
  if (how !== 'guessed') return []
  // oxlint-disable-next-line no-control-regex -- the first character outside ASCII shows whether the guess is right
  const odd = /[^\u0000-\u007F]/.exec(text)
  const example = odd === null ? '' : ` (line ${text.slice(0, odd.index).split('\n').length} has "${/[^\s;,|"]{0,20}$/.exec(text.slice(0, odd.index))?.[0] ?? ''}${/^[^\s;,|"]{1,20}/.exec(text.slice(odd.index))?.[0] ?? ''}")`
  return [`The encoding is a guess: ${encoding}${example}. If letters look wrong, choose another.`]
}

function readingRemarks(columns: readonly RunsColumn[], layout: string | undefined, short: number, daysOnly: number): readonly string[] {
  const out = columns.filter(({ as, header }) => as === 'left out' && header !== '').map(({ header }) => `"${header}"`)
  return [
    ...(layout === undefined ? [] : [`Read by the remembered layout "${layout}".`]),
    ...(out.length === 0 ? [] : [`Left out: the ${out.length === 1 ? 'column' : 'columns'} ${out.slice(0, COLUMNS_LISTED).join(', ')}${out.length > COLUMNS_LISTED ? ` and ${out.length - COLUMNS_LISTED} more` : ''}.`]),
    ...(short === 0 ? [] : [`${short} ${short === 1 ? 'line ends' : 'lines end'} before the last column; the missing cells are read as empty.`]),
    ...(daysOnly === 0 ? [] : [`${daysOnly} ${daysOnly === 1 ? 'line gives its day only; its time is' : 'lines give their day only; their time is'} booked as the beginning of that day.`]),
  ]
}

const COLUMNS_LISTED = 8

interface Account {
  readonly all: number
  readonly head: number
  readonly blank: number
  readonly leftOut: number
  readonly data: readonly Row[]
  readonly dataSpan: number
  readonly brokenLines: number
}

/** Every line must stand somewhere. One that does not was lost in reading, and nothing may come in. */
function reconcile({ all, head, blank, leftOut, data, dataSpan, brokenLines }: Account, problems: Problems): LineCount {
  const faulty = new Set(problems.all().flatMap(({ line }) => (line === null ? [] : [line])))
  const rejectedRows = data.filter((row) => faulty.has(row.line)).reduce((sum, row) => sum + row.span, 0)
  const count: LineCount = { all, head, blank, leftOut, taken: dataSpan - rejectedRows, rejected: rejectedRows + brokenLines }
  const sum = head + blank + leftOut + count.taken + count.rejected
  if (sum !== all) throw new SpokenError({ code: 'lines-lost', message: `the file has ${all} lines, but ${sum} were accounted for.`, mend: 'Look for a quote that is not closed, and report this.' })
  return count
}

export type { GivenField }
