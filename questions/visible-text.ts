// Names come from anywhere: characters that would hide, reorder or break what stands around them are shown as U+FFFD. Figures keep to their units.
import { UNITS } from '@guardband/model/units'

/** Text safe to set in a line: control characters, bidirectional controls, invisible format characters and lone surrogates become visible. */
export function visibleText(text: string): string {
  return text.toWellFormed().replace(SPACE_LIKE, ' ').replace(HIDDEN, '\ufffd')
}

/** The text with no-break spaces where a figure meets its unit and within a date, so that these never part at a line end; a dot between entries stays at the end of its line. */
export function keepTogether(text: string): string {
  return text.replace(FIGURE_AND_UNIT, '\u00a0').replace(MONTH_AND_YEAR, '\u00a0').replaceAll(' \u00b7 ', '\u00a0\u00b7 ')
}

const UNIT_WORDS = ['%', '°C', ...UNITS.map((unit) => unit.symbol).filter((symbol) => /^\p{L}/u.test(symbol))].map((symbol) => symbol.replace('/', '\\/')).join('|')
const MONTHS = 'January|February|March|April|May|June|July|August|September|October|November|December'
/** A digit, a space, then a month, a unit or what looks like a currency (three capitals or a sign), as a whole word. */
const FIGURE_AND_UNIT = new RegExp(`(?<=\\d) (?=(?:${UNIT_WORDS}|${MONTHS}|[A-Z]{3}|\\p{Sc})(?![\\p{L}\\p{N}]))`, 'gu')
const MONTH_AND_YEAR = new RegExp(`(?<=\\d\\u00a0(?:${MONTHS})) (?=\\d{4}(?!\\d))`, 'g')

/** Line breaks and tabs only part words here. */
const SPACE_LIKE = /[\t\n\r\u0085\u2028\u2029]+/g
/** Cc, the bidirectional controls of Unicode UAX 9, zero-width marks that hide differences, and the non-characters that XML 1.0 forbids. Joiners (U+200C, U+200D) stay: scripts need them. */
const HIDDEN = /[\p{Cc}\u061c\u200b\u200e\u200f\u202a-\u202e\u2060\u2066-\u2069\ufeff\ufffe\uffff]/gu
