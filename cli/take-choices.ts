// How a table is to be read, as options of the command, and which option answers a question.
import { intakeChoicesSchema, SpokenError, type IntakeChoices, type IntakeQuestion } from '@guardband/model'

export interface TakeFlags {
  readonly encoding?: string
  readonly separator?: string
  readonly header?: number
  readonly decimal?: string
  readonly thousands?: string
  readonly dates?: string
  readonly zone?: string
  readonly starts?: string
  readonly columnsAre?: string
  readonly word?: readonly string[]
  readonly all?: readonly string[]
}

/** Throws a sentence that names the option. */
export function choicesFrom(flags: TakeFlags): IntakeChoices {
  const raw = {
    encoding: flags.encoding,
    separator: flags.separator === undefined ? undefined : (SEPARATORS[flags.separator] ?? flags.separator),
    headerLine: flags.header,
    decimal: flags.decimal === undefined ? undefined : (MARKS[flags.decimal] ?? flags.decimal),
    thousands: flags.thousands === undefined ? undefined : (MARKS[flags.thousands] ?? flags.thousands),
    dates: flags.dates?.replace('-', ' '),
    zone: flags.zone === 'UTC' ? 'Z' : flags.zone,
    starts: flags.starts?.replaceAll('-', ' '),
    wide: flags.columnsAre,
    outcomes: flags.word?.map((text) => pair('--word', text)).map(([word, outcome]) => ({ word, outcome })),
    given: flags.all === undefined ? undefined : Object.fromEntries(flags.all.map((text) => pair('--all', text))),
  }
  const parsed = intakeChoicesSchema.safeParse(Object.fromEntries(Object.entries(raw).filter(([, value]) => value !== undefined)))
  if (parsed.success) return parsed.data
  const issue = parsed.error.issues[0]
  const field = String(issue?.path[0] ?? '')
  throw new SpokenError({ code: 'take-option', place: OPTION_OF[field] ?? field, message: `${issue?.message ?? 'it is not understood'}.`, mend: 'npx guardband take --help shows what each option may be.' })
}

const SEPARATORS: Readonly<Record<string, string>> = { comma: ',', semicolon: ';', tab: '\t', bar: '|' }
const MARKS: Readonly<Record<string, string>> = { point: '.', comma: ',', space: ' ', apostrophe: "'" }
const OPTION_OF: Readonly<Record<string, string>> = {
  encoding: '--encoding', separator: '--separator', headerLine: '--header', decimal: '--decimal', thousands: '--thousands', dates: '--dates', zone: '--zone', starts: '--starts', wide: '--columns-are', outcomes: '--word', given: '--all',
}

function pair(option: string, text: string): readonly [string, string] {
  const at = text.indexOf('=')
  if (at > 0 && at < text.length - 1) return [text.slice(0, at).trim(), text.slice(at + 1).trim()]
  throw new SpokenError({ code: 'take-option', place: option, message: `it must be NAME=VALUE; got ${text}.` })
}

/** The question and, below it, the options that answer it. */
export function questionLines({ about, sentence, options, free }: IntakeQuestion): readonly string[] {
  const answer = (value: string): string => {
    switch (about.choice) {
      case 'outcome':
        return `--word ${quoted(`${about.word}=${value}`)}`
      case 'given':
        return `--all ${quoted(`${about.field}=${value}`)}`
      case 'wide':
        return `--columns-are ${value}`
      case 'decimal':
      case 'thousands':
        return `--${about.choice} ${value === '.' ? 'point' : value === ',' ? 'comma' : value}`
      case 'dates':
      case 'starts':
        return `--${about.choice} ${value.replaceAll(' ', '-')}`
      case 'zone':
        return `--zone ${value}`
    }
  }
  const shown = options.slice(0, MOST_SHOWN).map(({ value, text }) => `${answer(value)}${text === value ? '' : ` (${text})`}`)
  const more = free ? [answer(about.choice === 'zone' ? '+01:00' : 'NAME')] : []
  const all = [...shown, ...more]
  return [sentence, ...(all.length === 0 ? ['  Mend the header, or correct the columns on the page.'] : [`  Answer with ${all.join(' or ')}.`])]
}

const MOST_SHOWN = 5

function quoted(text: string): string {
  return /^[\w=.+-]+$/.test(text) ? text : `"${text}"`
}
