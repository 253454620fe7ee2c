// Cells to typed rows: words of fixed lists, numbers, moments. Every fault is a problem with its line and column.
import {
  knownSchema, momentSchema, nearest, originSchema, outcomeSchema, phaseSchema, pickedSchema, slotSchema, startHowSchema, type Known, type Measure, type Outcome, type Run, type Sample, type Slot, type StartHow,
} from '@guardband/model'
import type { Column } from './columns.ts'
import type { Problems } from './problems.ts'
import type { Table, TableLine } from './read-table.ts'

export interface CsvRow {
  readonly line: number
  readonly part: string | undefined
  readonly sample: string
  readonly picked: Sample['picked'] | undefined
  readonly origin: Sample['origin'] | undefined
  readonly batch: string | undefined
  readonly slot: Slot
  readonly tune: string
  readonly rig: string
  readonly start: string
  readonly how: StartHow | undefined
  readonly at: string | undefined
  readonly firmware: string | undefined
  readonly system: string | undefined
  readonly ambient: number | undefined
  /** Empty only where the outcome is that of the start itself. */
  readonly workload: string
  readonly group: string | undefined
  readonly measure: string | undefined
  readonly unit: string | undefined
  readonly direction: Measure['direction'] | undefined
  readonly value: number | undefined
  readonly outcome: Outcome
  readonly phase: Run['phase'] | undefined
  readonly place: string | undefined
  readonly order: number | undefined
  readonly seconds: number | undefined
  readonly known: Known
}

/** What a column means when it is absent or a cell is empty. */
export const CSV_DEFAULTS = { slot: 'processor', tune: 'as it stood', rig: 'bench', how: 'cold', measure: 'score', unit: 'points', direction: 'higher is better', known: 'unverified' } as const

/** Outcomes of the start itself: such a row makes no run. */
export const START_OUTCOMES: ReadonlySet<Outcome> = new Set<Outcome>(['no start', 'fallback start', 'system fails to load'])

export function readRows(table: Table, problems: Problems): readonly CsvRow[] {
  const numbers = createNumberReader(table, problems)
  return table.lines.flatMap((line) => {
    const before = problems.all().length
    const row = readRow(line, numbers, problems)
    return problems.all().length === before ? [row] : []
  })
}

type NumberReader = (line: TableLine, column: Column) => number | undefined

function readRow(line: TableLine, number: NumberReader, problems: Problems): CsvRow {
  const at = (column: Column) => ({ line: line.line, column })
  const text = (column: Column, longest = 200): string | undefined => {
    const cell = line.cells[column]
    if (cell === undefined || cell === '') return undefined
    if (cell.length > longest) problems.add(at(column), `the text has ${cell.length} characters.`, `At most ${longest} are kept; shorten it.`)
    return cell
  }
  const needed = (column: Column): string => {
    const cell = text(column)
    if (cell === undefined) problems.add(at(column), 'the cell is empty.', 'Every run needs one.')
    return cell ?? ''
  }
  const word = <Word extends string>(column: Column, words: readonly Word[], also: Readonly<Record<string, Word>> = {}): Word | undefined => {
    const cell = text(column)?.toLowerCase()
    if (cell === undefined) return undefined
    const found = words.find((candidate) => candidate === cell) ?? also[cell]
    if (found !== undefined) return found
    const near = nearest(cell, words)
    problems.add(at(column), `"${cell}" is none of its words.`, near === undefined ? `Use one of: ${words.join(', ')}.` : `Did you mean "${near}"?`)
    return undefined
  }

  const value = number(line, 'value')
  const given = word('outcome', outcomeSchema.options)
  const outcome = given ?? 'scored'
  if (given === undefined && value === undefined && (line.cells.value ?? '') === '' && (line.cells.outcome ?? '') === '') {
    problems.add(at('value'), 'there is neither a value nor an outcome.', 'Give the value, or say in "outcome" what happened.')
  }
  if (given === 'scored' && (line.cells.value ?? '') === '') problems.add(at('value'), 'the run is marked as scored but has no value.', 'Give the value, or another outcome.')
  const unit = text('unit', 20)
  const order = number(line, 'order')
  if (order !== undefined && (!Number.isSafeInteger(order) || order < 0)) problems.add(at('order'), `the order must be a whole number from 0; got ${line.cells.order ?? ''}.`, 'Count the runs of a start 0, 1, 2.')
  const seconds = number(line, 'seconds')
  if (seconds !== undefined && seconds < 0) problems.add(at('seconds'), `seconds must not be negative; got ${line.cells.seconds ?? ''}.`, 'Leave the cell empty where the time is not known.')
  const ambient = number(line, 'ambient')
  if (ambient !== undefined && Math.abs(ambient) > 100) problems.add(at('ambient'), `an ambient temperature lies between -100 and 100 degC; got ${line.cells.ambient ?? ''}.`, 'Give it in degC.')
  return {
    line: line.line,
    part: text('part'),
    sample: needed('sample'),
    picked: word('picked', pickedSchema.options),
    origin: word('origin', originSchema.options),
    batch: text('batch', 100),
    slot: word('slot', slotSchema.options) ?? CSV_DEFAULTS.slot,
    tune: text('tune') ?? CSV_DEFAULTS.tune,
    rig: text('rig') ?? CSV_DEFAULTS.rig,
    start: needed('start'),
    how: word('how', startHowSchema.options),
    at: moment(line, problems),
    firmware: text('firmware'),
    system: text('system'),
    ambient,
    workload: START_OUTCOMES.has(outcome) ? (text('workload') ?? '') : needed('workload'),
    group: text('group', 100),
    measure: text('measure'),
    unit,
    direction: word('direction', ['higher is better', 'lower is better'], { higher: 'higher is better', lower: 'lower is better' }),
    value,
    outcome,
    phase: word('phase', phaseSchema.options),
    place: text('place', 500),
    order,
    seconds,
    known: word('known', knownSchema.options) ?? CSV_DEFAULTS.known,
  }
}

/** A decimal comma is read where commas don't separate columns. A file that uses one may not use a decimal point as well: 1.234 would be two numbers. */
function createNumberReader(table: Table, problems: Problems): NumberReader {
  const commas = table.separator !== ','
  const usesComma = commas && table.lines.some(({ cells }) => NUMBER_COLUMNS.some((column) => DECIMAL_COMMA.test(cells[column] ?? '')))
  return (line, column) => {
    const cell = line.cells[column]
    if (cell === undefined || cell === '') return undefined
    const at = { line: line.line, column }
    if (usesComma && PLAIN_NUMBER.test(cell) && cell.includes('.')) {
      problems.add(at, `${cell} has a point, while other numbers of this file have a decimal comma.`, 'Use one of the two throughout, and no thousands marks.')
      return undefined
    }
    if (PLAIN_NUMBER.test(cell) || (commas && DECIMAL_COMMA.test(cell))) {
      const value = Number(cell.replace(',', '.'))
      if (Number.isFinite(value)) return value
    }
    if (INFINITE.test(cell)) problems.add(at, `a value must be finite; got ${cell}.`, 'Leave the cell empty and give the outcome.')
    else if (!commas && DECIMAL_COMMA.test(cell)) problems.add(at, `"${cell}" has a decimal comma while commas separate the columns.`, 'Use a decimal point, or separate columns by semicolons.')
    else if (THOUSANDS.test(cell)) problems.add(at, `"${cell}" has thousands marks.`, 'Take them out.')
    else problems.add(at, `"${cell}" is not a number.`, 'Write the number alone; its unit goes in the column "unit".')
    return undefined
  }
}

const NUMBER_COLUMNS = ['value', 'seconds', 'ambient', 'order'] as const
const PLAIN_NUMBER = /^[+-]?(\d+\.?\d*|\.\d+)(e[+-]?\d+)?$/i
const DECIMAL_COMMA = /^[+-]?\d*,\d+$/
const INFINITE = /^([+-]?(inf|infinity|∞)|[+-]?\d[\d.]*e\+?\d{3,})$/i
const THOUSANDS = /^[+-]?\d{1,3}([.,'’\s]\d{3})+([.,]\d+)?$/

function moment(line: TableLine, problems: Problems): string | undefined {
  const cell = line.cells.time
  if (cell === undefined || cell === '') return undefined
  const at = { line: line.line, column: 'time' }
  // Seconds may be left out, and a space may stand for the T, as spreadsheets write it.
  const iso = cell.replace(' ', 'T').replace(/T(\d\d:\d\d)(?=$|[Z+-])/, 'T$1:00')
  if (momentSchema.safeParse(iso).success) return new Date(iso).toISOString()
  if (momentSchema.safeParse(`${iso}Z`).success) problems.add(at, `"${cell}" does not say its time zone.`, 'Add Z for UTC or an offset such as +01:00.')
  else problems.add(at, `"${cell}" is not a time.`, 'Write it as 2026-11-05T14:30:00+01:00.')
  return undefined
}
