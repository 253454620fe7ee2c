// The one formatter of numbers shown to people: decimals cut to what the interval supports, a true minus sign, no exponents in running text.

export interface Figure {
  readonly text: string
  /** Decimals used, so that an interval's ends can be printed alike. */
  readonly decimals: number
}

export interface IntervalText {
  readonly value: string
  readonly low: string
  readonly high: string
  readonly decimals: number
}

/**
 * Decimals that an interval of this half-width supports: its first digit lands in the last printed place,
 * one place more when that digit is 1 or 2 (a half-width of 0.14 gives 2 decimals, 0.5 gives 1, 12 gives 0).
 * The rule of one or two digits of uncertainty is that of JCGM 100:2008, 7.2.6.
 */
export function decimalsFor(halfWidth: number): number {
  if (!(halfWidth > 0) || !Number.isFinite(halfWidth)) return DEFAULT_DECIMALS
  const exponent = Math.floor(Math.log10(halfWidth))
  const lead = halfWidth / 10 ** exponent + ROUNDING_SLACK
  const wanted = lead < TWO_DIGIT_LIMIT ? 1 - exponent : -exponent
  return Math.min(MAX_DECIMALS, Math.max(0, wanted))
}

/** A number with a fixed count of decimals, thousands set apart by narrow spaces, minus as U+2212; minus zero prints as zero. */
export function fixed(value: number, decimals: number): string {
  if (!Number.isFinite(value)) return NOT_A_FIGURE
  const magnitude = Math.abs(value)
  const digits = magnitude < TO_FIXED_MAX ? magnitude.toFixed(decimals) : String(BigInt(magnitude))
  const negative = value < 0 && Number(digits) !== 0
  const [whole, fraction] = digits.split('.')
  const grouped = whole.length > 4 ? whole.replace(/\B(?=(\d{3})+(?!\d))/g, THIN_SPACE) : whole
  return `${negative ? MINUS : ''}${grouped}${fraction === undefined ? '' : `.${fraction}`}`
}

/** Like `fixed`, with a plus sign on positive numbers. */
export function signed(value: number, decimals: number): string {
  const text = fixed(value, decimals)
  return value > 0 && Number(Math.abs(value).toFixed(decimals)) !== 0 ? `+${text}` : text
}

/** A number that was set, not measured: every digit it has and none more ("1.0625", "−0.04"), never an exponent. */
export function exact(value: number): string {
  const [mantissa, exponent] = String(Math.abs(value)).split('e')
  const decimals = (mantissa.split('.')[1] ?? '').length - Number(exponent ?? 0)
  return fixed(value, Math.min(TO_FIXED_MOST, Math.max(0, decimals)))
}

/**
 * Value and ends of an interval, all with the decimals that its half-width supports; `signs` puts a plus on a positive value.
 * An end never prints as one of `limits` (zero, the smallest gain that matters) while it lies beside it: up to two more decimals
 * are spent so that figures and verdict agree.
 */
export function intervalText(interval: {
  readonly value: number
  readonly low: number
  readonly high: number
  readonly signs?: 'plus' | 'plain'
  readonly limits?: readonly number[]
}): IntervalText {
  const supported = decimalsFor((interval.high - interval.low) / 2)
  const merges = (decimals: number) =>
    (interval.limits ?? []).some((limit) =>
      [interval.low, interval.high].some((end) => end !== limit && fixed(end, decimals) === fixed(limit, decimals)),
    )
  let decimals = supported
  while (decimals < supported + SPARE_DECIMALS && merges(decimals)) decimals += 1
  const valueText = interval.signs === 'plus' ? signed(interval.value, decimals) : fixed(interval.value, decimals)
  return { value: valueText, low: fixed(interval.low, decimals), high: fixed(interval.high, decimals), decimals }
}

/** Minutes in a sentence: "40 min", "2 h 10 min", "3 h", whole hours from 10 h on. Rounded up, since they are a promise of time needed. */
export function minutesText(minutes: number): string {
  if (!Number.isFinite(minutes)) return NOT_A_FIGURE
  const whole = Math.max(0, Math.ceil(minutes - ROUNDING_SLACK))
  if (whole < MINUTES_PER_HOUR * 2) return `${fixed(whole, 0)} min`
  if (whole >= MINUTES_PER_HOUR * WHOLE_HOURS_FROM) return `${fixed(Math.ceil(whole / MINUTES_PER_HOUR), 0)} h`
  const hours = Math.floor(whole / MINUTES_PER_HOUR)
  const rest = whole % MINUTES_PER_HOUR
  return rest === 0 ? `${fixed(hours, 0)} h` : `${fixed(hours, 0)} h ${rest} min`
}

/** A probability as a percentage that never claims 0 or 100: "under 1 %", "8 %", "over 99 %". */
export function chanceText(probability: number): string {
  if (!Number.isFinite(probability)) return NOT_A_FIGURE
  if (probability < 0.01) return 'under 1 %'
  if (probability > 0.99) return 'over 99 %'
  return `${Math.round(probability * 100)} %`
}

/** The day of a moment as a sentence writes it, in the moment's own offset: "2 November 2026". */
export function dayText(moment: string): string {
  const [year, month, day] = moment.slice(0, 10).split('-').map(Number)
  return `${day} ${MONTHS[month - 1] ?? ''} ${year}`
}

/** A count with its noun: "1 start", "12 starts". */
export function counted(count: number, one: string, many = `${one}s`): string {
  return `${fixed(count, 0)} ${count === 1 ? one : many}`
}

const MINUS = '\u2212'
const THIN_SPACE = '\u202f'
const NOT_A_FIGURE = 'not known'
/** Used when there is no interval to speak for the digits. */
const DEFAULT_DECIMALS = 1
/** Below this leading digit one digit of uncertainty would be cut by up to a third. */
const TWO_DIGIT_LIMIT = 3
/** From here on `toFixed` turns to exponents (ECMA-262, Number.prototype.toFixed); such doubles are whole numbers. */
const TO_FIXED_MAX = 1e21
/** As many as `toFixed` gives (ECMA-262, Number.prototype.toFixed). */
const TO_FIXED_MOST = 100
const MAX_DECIMALS = 6
const SPARE_DECIMALS = 2
const MINUTES_PER_HOUR = 60
const WHOLE_HOURS_FROM = 10
/** Keeps 40.0000001 min from printing as 41. */
const ROUNDING_SLACK = 1e-6
const MONTHS = ['January', 'February', 'March', 'April', 'May', 'June', 'July', 'August', 'September', 'October', 'November', 'December']
