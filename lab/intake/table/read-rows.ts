// Cells to typed rows: words of fixed lists, numbers, moments, outcomes. A line makes a run for each workload, tune, sample or repeat that it has figures of.
import {
  convert, knownSchema, nearest, originSchema, phaseSchema, pickedSchema, slotSchema, startHowSchema,
  type GivenField, type Known, type Measure, type Outcome, type Run, type RunsColumn, type Sample, type Slot, type StartHow, type StartsRule,
} from '@guardband/model'
import type { Role } from './columns.ts'
import { measureOfUnit, splitHeader } from './headers.ts'
import type { createMomentReader } from './moments.ts'
import type { ReadNumber } from './numbers.ts'
import { meaningOf, type Meaning } from './outcome-words.ts'
import type { Problems } from './problems.ts'
import type { Row } from './split-rows.ts'

export interface RowValue {
  /** By its header in the file, for sentences. */
  readonly column: string
  readonly measure: string | undefined
  /** What a new workload's measure is called where nothing names it. */
  readonly otherwise: string
  readonly unit: string | undefined
  readonly direction: Measure['direction'] | undefined
  /** Absent where the run has no figure of it. */
  readonly value: number | undefined
}

/** One run, or the failure of its start. */
export interface RunLine {
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
  readonly values: readonly RowValue[]
  readonly outcome: Outcome
  readonly phase: Run['phase'] | undefined
  readonly place: string | undefined
  readonly order: number | undefined
  readonly seconds: number | undefined
  readonly known: Known
  readonly note: string | undefined
}

/** What a column means when it is absent or a cell is empty. */
export const TABLE_DEFAULTS = { slot: 'processor', tune: 'as it stood', rig: 'bench', how: 'cold', measure: 'score', unit: 'points', known: 'unverified' } as const

/** Outcomes of the start itself: such a row makes no run. */
export const START_OUTCOMES: ReadonlySet<Outcome> = new Set<Outcome>(['no start', 'fallback start', 'system fails to load'])

export interface RowNeeds {
  readonly columns: readonly RunsColumn[]
  readonly given: Readonly<Partial<Record<GivenField, string>>>
  readonly starts: StartsRule | undefined
  /** Columns that a person is being asked about: until then no cell of theirs is missing. */
  readonly asked: ReadonlySet<string>
  readonly number: (cell: string) => ReadNumber
  readonly moment: ReturnType<typeof createMomentReader>
  readonly said: ReadonlyMap<string, Exclude<Meaning, 'well'>>
  readonly problems: Problems
}

export interface RowReader {
  /** The runs of one line, or why it is left out. Faults are problems; then it gives none. */
  readonly read: (row: Row) => { readonly runs: readonly RunLine[]; readonly leftOut?: string }
  /** Words that nobody gave a meaning, with the first place and how often. */
  readonly unknownWords: () => ReadonlyMap<string, WordPlace>
  /** Words that stood for an outcome, by how they were written. */
  readonly usedWords: () => ReadonlyMap<string, { readonly meaning: Meaning; readonly count: number }>
  /** Times without a zone, where none was said. */
  readonly timesWithoutZone: () => { readonly cell: string; readonly line: number } | undefined
  /** Lines whose time is a day only. */
  readonly daysOnly: () => number
}

export interface WordPlace {
  readonly line: number
  readonly column: string
  readonly count: number
}

interface ValueColumn {
  readonly index: number
  readonly header: string
  readonly measure: string | undefined
  readonly unit: string | undefined
  readonly otherwise: string
  readonly direction: Measure['direction'] | undefined
}

/** Columns of figures that are of one run. */
interface Group extends Pick<RunsColumn, 'workload' | 'part' | 'sample' | 'tune' | 'repeat'> {
  readonly columns: readonly ValueColumn[]
}

export function createRowReader(needs: RowNeeds): RowReader {
  const { columns, given, starts, problems, number, said } = needs
  const indexes = new Map<string, number>()
  columns.forEach(({ as }, index) => {
    if (as !== 'measure' && as !== 'left out' && !indexes.has(as)) indexes.set(as, index)
  })
  const groups = groupColumns(columns)
  const wide = columns.some(({ as }) => as === 'measure')
  const unknownWords = new Map<string, { line: number; column: string; count: number }>()
  const usedWords = new Map<string, { meaning: Meaning; count: number }>()
  let withoutZone: { readonly cell: string; readonly line: number } | undefined
  let daysOnly = 0
  const headerOf = (role: string): string => columns[indexes.get(role) ?? -1]?.header ?? role

  const text = (row: Row, role: Role, longest = 200): string | undefined => {
    const cell = cellAt(row, indexes.get(role))
    if (cell !== undefined && cell.length > longest) problems.add({ line: row.line, column: headerOf(role) }, `the text has ${cell.length} characters.`, `At most ${longest} are kept; shorten it.`)
    return cell
  }
  const word = <Word extends string>(row: Row, role: Role, words: readonly Word[], also: Readonly<Record<string, Word>> = {}, otherwise?: string): Word | undefined => {
    const cell = (cellAt(row, indexes.get(role)) ?? otherwise)?.toLowerCase()
    if (cell === undefined) return undefined
    const found = words.find((candidate) => candidate === cell) ?? also[cell]
    if (found !== undefined) return found
    const near = nearest(cell, words)
    problems.add({ line: row.line, column: headerOf(role) }, `"${cell}" is none of its words.`, near === undefined ? `Use one of: ${words.join(', ')}.` : `Did you mean "${near}"?`)
    return undefined
  }
  const figure = (row: Row, role: Role): { readonly value: number; readonly unit: string | undefined } | undefined => {
    const cell = cellAt(row, indexes.get(role))
    if (cell === undefined || meaningOf(cell, NOTHING_SAID) === 'not run') return undefined
    const read = number(cell)
    if (read.is === 'number') return { value: read.value, unit: read.unit ?? columns[indexes.get(role) ?? -1]?.unit }
    const { message, mend } = read.is === 'fault' ? read : { message: `"${cell}" is not a number.`, mend: 'Write the number alone or with its unit.' }
    problems.add({ line: row.line, column: headerOf(role) }, message, mend)
    return undefined
  }
  const meaning = (cell: string, row: Row, column: string): Meaning | undefined => {
    const found = meaningOf(cell, said)
    const map = found === undefined ? unknownWords : usedWords
    const had = map.get(cell)
    if (had !== undefined) had.count += 1
    else if (found === undefined) unknownWords.set(cell, { line: row.line, column, count: 1 })
    else usedWords.set(cell, { meaning: found, count: 1 })
    return found
  }
  const at = (row: Row): string | undefined => {
    const whole = cellAt(row, indexes.get('time'))
    const day = cellAt(row, indexes.get('date'))
    const clock = cellAt(row, indexes.get('clock'))
    const role = whole === undefined ? 'date' : 'time'
    const cell = whole ?? (day === undefined ? undefined : clock === undefined ? day : `${day} ${clock}`)
    if (cell === undefined) return undefined
    const read = needs.moment(cell)
    if (read.is === 'fault') problems.add({ line: row.line, column: headerOf(role) }, read.message, read.mend)
    else if (read.is === 'no zone') withoutZone ??= { cell, line: row.line }
    else {
      if (read.from === 'day') daysOnly += 1
      return read.at
    }
    return undefined
  }

  const read: RowReader['read'] = (row) => {
    const before = problems.count()
    const line = row.line
    const said = text(row, 'outcome')
    const outcomeOfLine = said === undefined ? undefined : meaning(said, row, headerOf('outcome'))
    const asRepeat = figure(row, 'repeat')?.value
    const order = figure(row, 'order')?.value
    if (order !== undefined && (!Number.isSafeInteger(order) || order < 0)) problems.add({ line, column: headerOf('order') }, `the order must be a whole number from 0; got ${order}.`, 'Count the runs of a start 0, 1, 2.')
    const took = figure(row, 'seconds')
    const seconds = took === undefined ? undefined : took.unit === undefined ? took.value : convert(took.value, took.unit, 's')
    if (seconds !== undefined && seconds < 0) problems.add({ line, column: headerOf('seconds') }, `seconds must not be negative; got ${took?.value}.`, 'Leave the cell empty where the time is not known.')
    if (took !== undefined && seconds === undefined) problems.add({ line, column: headerOf('seconds') }, `${took.unit} is no unit of time.`, 'Give it in seconds.')
    const ambient = figure(row, 'ambient')?.value
    if (ambient !== undefined && Math.abs(ambient) > 100) problems.add({ line, column: headerOf('ambient') }, `an ambient temperature lies between -100 and 100 degC; got ${ambient}.`, 'Give it in degC.')
    const unitOfLine = text(row, 'unit', 20)
    const measureOfLine = text(row, 'measure name')
    const direction = word(row, 'direction', ['higher is better', 'lower is better'], BETTER)
    const shared = {
      line,
      part: text(row, 'part') ?? given.part,
      picked: word(row, 'picked', pickedSchema.options),
      origin: word(row, 'origin', originSchema.options),
      batch: text(row, 'batch', 100),
      slot: word(row, 'slot', slotSchema.options) ?? TABLE_DEFAULTS.slot,
      rig: text(row, 'rig') ?? given.rig ?? TABLE_DEFAULTS.rig,
      how: word(row, 'how', startHowSchema.options, HOW, given.how),
      at: at(row),
      firmware: text(row, 'firmware') ?? given.firmware,
      system: text(row, 'system') ?? given.system,
      ambient,
      group: text(row, 'group', 100),
      phase: word(row, 'phase', phaseSchema.options),
      place: text(row, 'place', 500),
      seconds,
      known: word(row, 'known', knownSchema.options, {}, given.known) ?? TABLE_DEFAULTS.known,
      note: text(row, 'note', 10_000),
    }
    const sampleOfLine = text(row, 'sample') ?? given.sample
    const tuneOfLine = text(row, 'tune') ?? given.tune
    const startOfLine = text(row, 'start') ?? given.start
    const workloadOfLine = text(row, 'workload') ?? given.workload
    const runs: RunLine[] = []
    let skipped: string | undefined
    for (const group of groups) {
      const values: RowValue[] = []
      let figures = 0
      let failure: Outcome | undefined
      let well = false
      let notRun = false
      let unread = outcomeOfLine === undefined && said !== undefined
      for (const column of group.columns) {
        const cell = cellAt(row, column.index)
        let value: number | undefined
        let unit: string | undefined
        if (cell !== undefined) {
          const found = number(cell)
          if (found.is === 'number') {
            value = found.value
            unit = found.unit
            figures += 1
          } else if (found.is === 'fault') problems.add({ line, column: column.header }, found.message, found.mend)
          else {
            const means = meaning(cell, row, column.header)
            if (means === 'well' || means === 'passed') well = true
            else if (means === undefined) unread = true
            else if (means === 'not run') notRun = true
            else if (means !== 'scored') failure ??= means
          }
        }
        values.push({
          column: column.header, measure: column.measure ?? measureOfLine, otherwise: column.otherwise, unit: unit ?? unitOfLine ?? column.unit, direction: direction ?? column.direction, value,
        })
      }
      const alone = groups.length === 1
      const told = outcomeOfLine === 'well' || outcomeOfLine === 'not run' ? undefined : alone || figures === 0 ? outcomeOfLine : undefined
      if (told === 'scored' && figures === 0 && failure === undefined) {
        problems.add({ line, column: group.columns[0]?.header ?? 'value' }, 'the run is marked as scored but has no value.', 'Give the value, or another outcome.')
      }
      const outcome = failure ?? told ?? (figures > 0 ? 'scored' : well || outcomeOfLine === 'well' ? 'passed' : undefined)
      if (outcome === undefined) {
        if (unread) skipped ??= 'nobody has said yet what its word means'
        else if (notRun || outcomeOfLine === 'not run') skipped ??= 'it says that nothing ran'
        else if (wide) skipped ??= 'it has no figure and no outcome'
        else if (needs.asked.has('value')) skipped ??= 'no column of figures is known yet'
        else if (problems.count() === before) problems.add({ line, column: headerOf('value') }, 'there is neither a value nor an outcome.', 'Give the value, or say in "outcome" what happened.')
        continue
      }
      const needed = (role: Role, value: string | undefined): string => {
        if (value === undefined && !needs.asked.has(role) && problems.count() === before) problems.add({ line, column: headerOf(role) }, 'the cell is empty.', 'Every run needs one.')
        return value ?? ''
      }
      const sample = needed('sample', group.sample ?? sampleOfLine)
      const tune = group.tune ?? tuneOfLine ?? TABLE_DEFAULTS.tune
      const repeat = group.repeat ?? asRepeat
      const workload = group.workload ?? workloadOfLine
      runs.push({
        ...shared,
        ...(group.part === undefined ? {} : { part: group.part }),
        sample,
        tune,
        start: startOfLine ?? startLabel(starts, { line, tune, repeat }) ?? needed('start', undefined),
        workload: START_OUTCOMES.has(outcome) ? (workload ?? '') : needed('workload', workload),
        values,
        outcome,
        order: groups.length === 1 ? order : undefined,
      })
    }
    if (problems.count() > before) return { runs: [] }
    return runs.length > 0 || skipped === undefined ? { runs } : { runs, leftOut: skipped }
  }

  return { read, unknownWords: () => unknownWords, usedWords: () => usedWords, timesWithoutZone: () => withoutZone, daysOnly: () => daysOnly }
}

function cellAt(row: Row, index: number | undefined): string | undefined {
  const cell = index === undefined ? undefined : row.cells[index]?.trim()
  return cell === '' ? undefined : cell
}

const NOTHING_SAID = new Map<string, Exclude<Meaning, 'well'>>()
const BETTER = { higher: 'higher is better', lower: 'lower is better', höher: 'higher is better', niedriger: 'lower is better' } as const
const HOW = { kalt: 'cold', kaltstart: 'cold', warmstart: 'warm', 'cold boot': 'cold', 'warm boot': 'warm' } as const

/** The column `value` alone makes one group; columns named by their headers one for each workload, tune, sample or repeat among them. */
function groupColumns(columns: readonly RunsColumn[]): readonly Group[] {
  const groups = new Map<string, Omit<Group, 'columns'> & { readonly columns: ValueColumn[] }>()
  columns.forEach((column, index) => {
    if (column.as !== 'measure' && column.as !== 'value') return
    const { workload, part, sample, tune, repeat } = column
    const key = JSON.stringify([workload, part, sample, tune, repeat])
    const group = groups.get(key) ?? { ...defined({ workload, part, sample, tune, repeat }), columns: [] }
    groups.set(key, group)
    group.columns.push({
      index, header: column.header, measure: column.measure, unit: column.unit,
      otherwise: (column.as === 'measure' || column.unit !== undefined ? measureOfUnit(column.unit) : undefined) ?? TABLE_DEFAULTS.measure,
      direction: splitHeader(column.header).direction,
    })
  })
  // A table of failures has an outcome and no figures at all.
  return groups.size === 0 ? [{ columns: [{ index: -1, header: 'value', measure: undefined, unit: undefined, otherwise: TABLE_DEFAULTS.measure, direction: undefined }] }] : [...groups.values()]
}

function defined<Fields extends object>(fields: Fields): { [Key in keyof Fields]?: Exclude<Fields[Key], undefined> } {
  // Drops the keys whose value is undefined, which is what the type says.
  return Object.fromEntries(Object.entries(fields).filter(([, value]) => value !== undefined)) as { [Key in keyof Fields]?: Exclude<Fields[Key], undefined> }
}

function startLabel(rule: StartsRule | undefined, { line, tune, repeat }: { readonly line: number; readonly tune: string; readonly repeat: number | undefined }): string | undefined {
  if (rule === 'each line') return `line ${line}`
  if (rule === 'each sample and tune') return tune
  if (rule === 'each repeat') return `${tune}, repeat ${repeat ?? 1}`
  return rule === 'whole file' ? 'the one of this file' : undefined
}
