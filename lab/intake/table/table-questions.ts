// What a table leaves open, as questions with their choices: nothing here is ever guessed in silence.
import { outcomeSchema, type GivenField, type IntakeChoices, type IntakeQuestion, type RunsColumn } from '@guardband/model'
import type { KnownNames } from './guess-columns.ts'
import { createMomentReader, type FoundDates } from './moments.ts'
import { createNumberReader, type OpenNumber } from './numbers.ts'
import { nearOutcome } from './outcome-words.ts'
import type { WordPlace } from './read-rows.ts'

export function columnQuestions(table: {
  readonly columns: readonly RunsColumn[]
  readonly open: readonly string[]
  readonly choices: IntakeChoices
  readonly given: Readonly<Partial<Record<GivenField, string>>>
  readonly known: KnownNames
  readonly repeats: boolean
}): readonly IntakeQuestion[] {
  const { columns, open, choices, given, known } = table
  if (open.length > 0) return [wideQuestion(open)]
  const has = (as: string): boolean => columns.some((column) => column.as === as)
  const says = (field: 'workload' | 'sample' | 'tune' | 'part'): boolean => has(field) || given[field] !== undefined || columns.some((column) => column.as === 'measure' && column[field] !== undefined)
  const failuresOnly = has('outcome') && !has('value') && !has('measure')
  const asked: IntakeQuestion[] = []
  const ask = (field: GivenField, sentence: string, names: readonly string[]): void => {
    asked.push({ about: { choice: 'given', field }, sentence, options: [...new Set(names)].slice(0, MOST_OPTIONS).map((name) => ({ value: name, text: name })), free: true })
  }
  if (!says('sample')) ask('sample', 'The file does not say which sample it was. Which one?', known.samples)
  if (!says('tune') && !says('part')) ask('tune', 'The file says neither tune nor part. At which tune did it run?', known.tunes)
  if (!says('workload')) ask('workload', 'The file does not say what ran. Which workload?', known.workloads.map(({ name }) => name))
  if (!has('value') && !has('measure') && !failuresOnly) {
    asked.push({ about: { choice: 'wide', headers: columns.filter(({ as }) => as === 'left out').map(({ header }) => header) }, sentence: 'No column holds figures or outcomes. Say which one does.', options: [], free: false })
  }
  if (!has('start') && given.start === undefined && choices.starts === undefined) {
    asked.push({
      about: { choice: 'starts' },
      sentence: 'The file has no column that names the starts. Which lines share one power-on?',
      options: [
        { value: 'each sample and tune', text: 'all of one sample at one tune' },
        { value: 'each line', text: 'each line is a start of its own' },
        ...(table.repeats ? [{ value: 'each repeat', text: 'each repeat is a start of its own' }] : []),
        { value: 'whole file', text: 'all of a sample in this file' },
      ],
      free: false,
    })
  }
  return asked
}

const MOST_OPTIONS = 20

function wideQuestion(headers: readonly string[]): IntakeQuestion {
  const shown = headers.slice(0, 4).map((header) => `"${header}"`).join(', ')
  return {
    about: { choice: 'wide', headers: [...headers] },
    sentence: `The ${headers.length === 1 ? 'column' : 'columns'} ${shown}${headers.length > 4 ? ` and ${headers.length - 4} more` : ''} hold figures. What does each stand for?`,
    options: [
      { value: 'tunes', text: 'a tune' }, { value: 'samples', text: 'a sample' }, { value: 'workloads', text: 'a workload' }, { value: 'repeats', text: 'a repeat' }, { value: 'measures', text: 'a measure' },
    ],
    free: false,
  }
}

export function questionsOfStyle(open: {
  readonly number: OpenNumber | undefined
  readonly date: FoundDates['open']
  readonly time: { readonly cell: string; readonly line: number } | undefined
  readonly homeZone: string
}): readonly IntakeQuestion[] {
  return [...numberQuestion(open.number), ...dateQuestion(open.date), ...zoneQuestion(open.time, open.homeZone)]
}

function numberQuestion(open: OpenNumber | undefined): readonly IntakeQuestion[] {
  if (open === undefined) return []
  const { cell, line, column, about } = open
  const mark = cell.includes(',') ? ',' : '.'
  const other = mark === '.' ? ',' : '.'
  const large = valueAs(cell, other, mark)
  if (about === 'decimal') {
    const small = valueAs(cell, mark, 'none')
    return [{
      about: { choice: 'decimal' },
      sentence: `"${cell}" (line ${line}, column ${column}) may be ${small} or ${large}. Which is it?`,
      options: [{ value: mark, text: small }, { value: other, text: large }],
      free: false,
    }]
  }
  return [{
    about: { choice: 'thousands' },
    sentence: `"${cell}" (line ${line}, column ${column}) stands among numbers with a decimal ${other === ',' ? 'comma' : 'point'}. Is it ${large}?`,
    options: [{ value: mark, text: `yes, ${large}` }, { value: 'none', text: 'no, it is written wrongly' }],
    free: false,
  }]
}

function valueAs(cell: string, decimal: '.' | ',', thousands: '.' | ',' | 'none'): string {
  const read = createNumberReader({ decimal, thousands })(cell)
  return read.is === 'number' ? String(read.value) : cell
}

function dateQuestion(open: FoundDates['open']): readonly IntakeQuestion[] {
  if (open === undefined) return []
  const as = (order: 'day first' | 'month first'): string => {
    const read = createMomentReader({ order, zone: 'Z' })(open.cell)
    return read.is === 'moment' ? dayText.format(new Date(read.at)) : open.cell
  }
  return [{
    about: { choice: 'dates' },
    sentence: `"${open.cell}" (line ${open.line}, column ${open.column}) may be ${as('day first')} or ${as('month first')}, and no date of the file settles it. Which is it?`,
    options: [{ value: 'day first', text: as('day first') }, { value: 'month first', text: as('month first') }],
    free: false,
  }]
}

const dayText = new Intl.DateTimeFormat('en-GB', { timeZone: 'UTC', day: 'numeric', month: 'long', year: 'numeric' })

function zoneQuestion(time: { readonly cell: string; readonly line: number } | undefined, homeZone: string): readonly IntakeQuestion[] {
  if (time === undefined) return []
  const zones = [...new Set([homeZone, 'Z'])].filter((zone) => zone !== 'UTC')
  return [{
    about: { choice: 'zone' },
    sentence: `"${time.cell}" (line ${time.line}) does not say its time zone. Which clock was it?`,
    options: zones.map((zone) => ({ value: zone, text: zone === 'Z' ? 'UTC' : zone })),
    free: true,
  }]
}

export function wordQuestions(words: ReadonlyMap<string, WordPlace>): readonly IntakeQuestion[] {
  return [...words].map(([word, { line, column, count }]) => {
    const near = nearOutcome(word)
    const options = [...(near === undefined ? [] : [near]), ...outcomeSchema.options.filter((outcome) => outcome !== near), 'not run' as const]
    return {
      about: { choice: 'outcome' as const, word },
      sentence: `What does "${word}" mean (line ${line}, column ${column}${count > 1 ? `, ${count} times` : ''})?${near === undefined ? '' : ` Perhaps "${near}".`}`,
      options: options.map((outcome) => ({ value: outcome, text: outcome })),
      free: false,
    }
  })
}
