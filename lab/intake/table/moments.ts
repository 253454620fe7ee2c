// Dates and times as people and spreadsheets write them. Which of day and month comes first is settled by the column itself, or asked.
import type { IntakeChoices } from '@guardband/model'

export type DateOrder = NonNullable<IntakeChoices['dates']>

/** What a column of dates leaves open. */
export interface FoundDates {
  readonly order: DateOrder | undefined
  /** The first date that could be either; undefined where none could, or where another settles it. */
  readonly open: { readonly cell: string; readonly line: number; readonly column: string } | undefined
}

export function findDateOrder(each: (look: (found: { readonly cell: string; readonly line: number; readonly column: string }) => void) => void, said: DateOrder | undefined): FoundDates {
  let dayFirst = false
  let monthFirst = false
  let open: FoundDates['open']
  each((found) => {
    const parts = SLASHED.exec(found.cell)
    if (parts === null) return
    const [one, two] = [Number(parts[1]), Number(parts[3])]
    // With points between them nobody writes the month first.
    if (parts[2] === '.' || one > MONTHS) dayFirst = true
    else if (two > MONTHS) monthFirst = true
    else if (one !== two) open ??= { ...found }
  })
  if (said !== undefined) return { order: said, open: undefined }
  if (dayFirst || monthFirst) return { order: dayFirst ? 'day first' : 'month first', open: undefined }
  return { order: undefined, open }
}

const MONTHS = 12
const CLOCK = /(?:[T ,]\s*(\d{1,2}):(\d\d)(?::(\d\d(?:[.,]\d+)?))?\s*([ap]\.?m\.?)?\s*(Z|UTC|GMT|[+-]\d\d:?\d\d)?)?$/.source
const SLASHED = new RegExp(`^(\\d{1,2})([./-])(\\d{1,2})\\2(\\d{4}|\\d\\d)${CLOCK}`, 'i')
const YEAR_FIRST = new RegExp(`^(\\d{4})([./-]?)(\\d{1,2})\\2(\\d{1,2})${CLOCK}`, 'i')
const NAMED_DAY_FIRST = new RegExp(`^(\\d{1,2})\\.?[ -]([A-Za-zäÄ]{3,9})\\.?[ -](\\d{4}|\\d\\d)${CLOCK}`, 'i')
const NAMED_MONTH_FIRST = new RegExp(`^([A-Za-zäÄ]{3,9})\\.? (\\d{1,2}),? (\\d{4})${CLOCK}`, 'i')
const SERIAL = /^\d{5}(?:[.,]\d+)?$/
const CLOCK_ONLY = new RegExp(`^${CLOCK.replace('(?:[T ,]\\s*', '(?:').replace(')?$', ')$')}`, 'i')

export type ReadMoment =
  | { readonly is: 'moment'; readonly at: string; readonly from: 'day' | 'day and time' }
  /** A time without a zone, where none was said. */
  | { readonly is: 'no zone' }
  | { readonly is: 'fault'; readonly message: string; readonly mend: string }

export function createMomentReader({ order, zone }: { readonly order: DateOrder | undefined; readonly zone: string | undefined }): (cell: string) => ReadMoment {
  const known = new Map<string, ReadMoment>()
  return (cell) => {
    // What most programs write needs no taking apart; every month has a day 28.
    if (ISO_WHOLE.test(cell)) return { is: 'moment', at: cell, from: 'day and time' }
    if (ISO_UTC.test(cell)) {
      const at = new Date(cell)
      if (!Number.isNaN(at.getTime()) && at.getUTCDate() === Number(cell.slice(8, 10))) return { is: 'moment', at: at.toISOString(), from: 'day and time' }
    }
    const had = known.get(cell)
    if (had !== undefined) return had
    const read = readMoment(cell, order ?? 'day first', zone)
    if (known.size < MOST_REMEMBERED) known.set(cell, read)
    return read
  }
}

const MOST_REMEMBERED = 5000
const ISO_WHOLE = /^\d{4}-(?:0[1-9]|1[0-2])-(?:0[1-9]|1\d|2[0-8])T(?:[01]\d|2[0-3]):[0-5]\d:[0-5]\d\.\d{3}Z$/
const ISO_UTC = /^\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(?:\.\d{1,3})?Z$/

/** Whether a cell looks like a date or a time of day at all. */
export function looksLikeMoment(cell: string): boolean {
  return [SLASHED, YEAR_FIRST, NAMED_DAY_FIRST, NAMED_MONTH_FIRST, SERIAL].some((form) => form.test(cell))
}

export function looksLikeClock(cell: string): boolean {
  return CLOCK_ONLY.test(cell) && cell.includes(':')
}

interface Written {
  readonly year: number
  readonly month: number
  readonly day: number
  /** Seconds after midnight; undefined where only the day is given. */
  readonly second: number | undefined
  readonly zone: string | undefined
}

function readMoment(cell: string, order: DateOrder, zone: string | undefined): ReadMoment {
  const written = takeApart(cell, order)
  if (written === undefined) return { is: 'fault', message: `"${cell}" is not a time.`, mend: 'Write it as 2026-11-05T14:30:00+01:00.' }
  const { year, month, day } = written
  const midnight = Date.UTC(year, month - 1, day)
  const back = new Date(midnight)
  if (month < 1 || month > MONTHS || back.getUTCMonth() !== month - 1 || back.getUTCDate() !== day || (written.second ?? 0) >= DAY_S) {
    return { is: 'fault', message: `"${cell}" is not a time${SLASHED.test(cell) && !cell.includes('.') ? ` read ${order}` : ''}.`, mend: 'Write it as 2026-11-05T14:30:00+01:00.' }
  }
  const where = written.zone ?? zone
  if (where === undefined) return { is: 'no zone' }
  const local = midnight + Math.round((written.second ?? 0) * 1000)
  const at = new Date(local - offsetOf(where, local)).toISOString()
  return { is: 'moment', at, from: written.second === undefined ? 'day' : 'day and time' }
}

const DAY_S = 86_400

function takeApart(cell: string, order: DateOrder): Written | undefined {
  const yearFirst = YEAR_FIRST.exec(cell)
  if (yearFirst !== null) return written(Number(yearFirst[1]), Number(yearFirst[3]), Number(yearFirst[4]), yearFirst.slice(5))
  const slashed = SLASHED.exec(cell)
  if (slashed !== null) {
    const [one, two] = [Number(slashed[1]), Number(slashed[3])]
    const monthFirst = order === 'month first' && slashed[2] !== '.'
    return written(fullYear(slashed[4]), monthFirst ? one : two, monthFirst ? two : one, slashed.slice(5))
  }
  const named = NAMED_DAY_FIRST.exec(cell)
  if (named !== null) return written(fullYear(named[3]), monthNumber(named[2]), Number(named[1]), named.slice(4))
  const monthNamed = NAMED_MONTH_FIRST.exec(cell)
  if (monthNamed !== null) return written(Number(monthNamed[3]), monthNumber(monthNamed[1]), Number(monthNamed[2]), monthNamed.slice(4))
  if (!SERIAL.test(cell)) return undefined
  const serial = Number(cell.replace(',', '.'))
  if (serial < FIRST_SERIAL || serial > LAST_SERIAL) return undefined
  const whole = Math.floor(serial)
  const date = new Date(SERIAL_ZERO + whole * DAY_S * 1000)
  return { year: date.getUTCFullYear(), month: date.getUTCMonth() + 1, day: date.getUTCDate(), second: Number.isInteger(serial) ? undefined : Math.round((serial - whole) * DAY_S), zone: undefined }
}

/** Spreadsheets count days from 30 December 1899 (their day 60, 29 February 1900, never was). */
const SERIAL_ZERO = Date.UTC(1899, 11, 30)
/** 1990 to 2099. */
const FIRST_SERIAL = 32_874
const LAST_SERIAL = 73_050

function written(year: number, month: number, day: number, clock: readonly (string | undefined)[]): Written {
  const [hour, minute, second, half, zone] = clock
  if (hour === undefined) return { year, month, day, second: undefined, zone: undefined }
  let hours = Number(hour)
  if (half !== undefined) hours = (hours % 12) + (half.toLowerCase().startsWith('p') ? 12 : 0)
  const seconds = hours * 3600 + Number(minute) * 60 + Number((second ?? '0').replace(',', '.'))
  const sound = hours < 24 && Number(minute) < 60
  return { year, month, day, second: sound ? seconds : Number.POSITIVE_INFINITY, zone }
}

/** Two digits are of this century. */
function fullYear(text: string): number {
  return text.length === 2 ? 2000 + Number(text) : Number(text)
}

/** 0 where it is none. English and German, by their first three letters. */
function monthNumber(text: string): number {
  const start = text.toLowerCase().slice(0, 3).replace('ä', 'a')
  return MONTH_STARTS.findIndex((starts) => starts.includes(start)) + 1
}

const MONTH_STARTS: readonly (readonly string[])[] = [['jan'], ['feb'], ['mar', 'mrz'], ['apr'], ['may', 'mai'], ['jun'], ['jul'], ['aug'], ['sep'], ['oct', 'okt'], ['nov'], ['dec', 'dez']]

/** Milliseconds that the zone is ahead of UTC when its clocks show this. */
function offsetOf(zone: string, local: number): number {
  if (/^(Z|UTC|GMT)$/i.test(zone)) return 0
  const fixed = /^([+-])(\d\d):?(\d\d)$/.exec(zone)
  if (fixed !== null) return (fixed[1] === '-' ? -1 : 1) * (Number(fixed[2]) * 60 + Number(fixed[3])) * 60_000
  // Twice: the first guess may lie on the other side of a change of clocks.
  const guess = zoneOffset(zone, local)
  return zoneOffset(zone, local - guess)
}

function zoneOffset(zone: string, at: number): number {
  let format = formats.get(zone)
  if (format === undefined) {
    format = new Intl.DateTimeFormat('en-GB', { timeZone: zone, year: 'numeric', month: '2-digit', day: '2-digit', hour: '2-digit', minute: '2-digit', second: '2-digit', hourCycle: 'h23' })
    formats.set(zone, format)
  }
  const part = Object.fromEntries(format.formatToParts(at).map(({ type, value }) => [type, Number(value)]))
  return Date.UTC(part['year'], part['month'] - 1, part['day'], part['hour'], part['minute'], part['second']) - Math.floor(at / 1000) * 1000
}

const formats = new Map<string, Intl.DateTimeFormat>()
