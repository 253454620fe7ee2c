// A value as people type it: a figure with its unit, a table by active cores, a curve, a mode by name, auto, or unchanged.
import type { Asked, SettingKind } from '../records/tune.ts'
import { looksLikeUnit, readUnit } from './read-unit.ts'

export type ValueReading =
  | { readonly status: 'read'; readonly asked: Asked; /** The unit was filled in, not typed. */ readonly filledUnit: string | null }
  | { readonly status: 'unclear'; readonly sentence: string }

export interface ValueHints {
  /** For a figure that stands without one. */
  readonly unit?: string
  readonly shape?: SettingKind['shape']
  /** Where it is known, a comma needs no guess. */
  readonly decimal?: '.' | ','
}

/** Never guesses in silence: what can be read two ways is unclear, and says which two. */
export function readValue(text: string, hints: ValueHints = {}): ValueReading {
  const plain = text.trim()
  const word = plain.toLowerCase()
  if (plain === '') return unclear('The value is missing.')
  if (AUTO.has(word)) return read({ shape: 'auto' })
  if (UNCHANGED.has(word)) return read({ shape: 'unchanged' })
  if (plain.length > LONGEST) return unclear(`The value has ${plain.length} characters; at most ${LONGEST} are read.`)
  if (hints.shape === 'mode') return mode(plain)
  if (isPairs(plain, hints.shape)) return readPairs(plain, hints)
  const figure = readFigure(plain, hints.decimal)
  if (figure === null) return mode(plain)
  if ('sentence' in figure) return unclear(figure.sentence)
  const filledUnit = figure.unit === null ? (hints.unit ?? '') : null
  return { status: 'read', asked: { shape: 'scalar', value: figure.value, unit: figure.unit ?? filledUnit ?? '' }, filledUnit: filledUnit === '' ? null : filledUnit }
}

interface Figure {
  readonly value: number
  /** Null where none stands there. */
  readonly unit: string | null
}

/** A number and what may be its unit; null where the text is no figure at all. */
export function readFigure(text: string, decimal?: '.' | ','): Figure | { readonly sentence: string } | null {
  const plain = text.replace(/[\u00a0\u202f]/g, '').replace(/^\u2212/, '-')
  if (HEX.test(plain)) return { value: Number(plain), unit: null }
  const parts = NUMBER.exec(plain)
  if (parts === null) return null
  const [, sign = '', digits = '', power = '', rest = ''] = parts
  const unitText = rest.trim()
  if (unitText !== '' && !looksLikeUnit(unitText)) return null
  const number = plainNumber(digits, decimal)
  if (typeof number !== 'string') return number
  const value = Number(`${sign}${number}${power}`)
  if (!Number.isFinite(value)) return { sentence: `${text} is no number that can be kept.` }
  return { value: value === 0 ? 0 : value, unit: unitText === '' ? null : (readUnit(unitText) ?? unitText) }
}

const AUTO: ReadonlySet<string> = new Set(['auto', 'automatic', '[auto]'])
const UNCHANGED: ReadonlySet<string> = new Set(['unchanged', 'as it was', 'leave', 'keep'])
const LONGEST = 2000
const HEX = /^0x[\da-f]{1,13}$/i
const NUMBER = /^([+-]?)(\d[\d.,]*|[.,]\d+)(e[+-]?\d{1,3}(?![\p{L}\d]))?\s?(.*)$/iu

function read(asked: Asked): ValueReading {
  return { status: 'read', asked, filledUnit: null }
}

function unclear(sentence: string): ValueReading {
  return { status: 'unclear', sentence }
}

function mode(text: string): ValueReading {
  return text.length > LONGEST_MODE ? unclear(`The value has ${text.length} characters and is no figure; a mode has at most ${LONGEST_MODE}.`) : read({ shape: 'mode', mode: text })
}

const LONGEST_MODE = 200

/** Digits with marks as JavaScript reads them; a sentence where the marks can mean two things; null where they are no number ("1.2.3"). */
function plainNumber(digits: string, decimal: '.' | ',' | undefined): string | { readonly sentence: string } | null {
  const commas = digits.split(',').length - 1
  const points = digits.split('.').length - 1
  if (commas === 0 && points <= 1 && decimal !== ',') return digits
  if (decimal === ',') return points === 0 && commas <= 1 ? digits.replace(',', '.') : /^\d{1,3}(?:\.\d{3})+(?:,\d+)?$/.test(digits) ? digits.replaceAll('.', '').replace(',', '.') : points === 1 && commas === 0 ? digits : null
  const grouped = /^\d{1,3}(?:,\d{3})+(?:\.\d+)?$/.test(digits)
  if (decimal === '.' || points === 1) return grouped ? digits.replaceAll(',', '') : null
  if (points > 1) return null
  if (commas > 1) return grouped ? digits.replaceAll(',', '') : null
  if (!grouped) return digits.replace(',', '.')
  return { sentence: `${digits} may be ${digits.replace(',', '')} or ${digits.replace(',', '.')}: write it without the comma.` }
}

/** "1: 58, 2-4: 56": each part has a place before a colon. A bare "1:2" is the name of a mode (a gear, a divider), unless tables are at home here. */
function isPairs(text: string, shape: SettingKind['shape'] | undefined): boolean {
  if (!PAIR_START.test(text)) return false
  return shape === 'table' || shape === 'curve' || !/^\d{1,4}:\d{1,4}$/.test(text)
}

const PAIR_START = /^[+\-\u2212]?[\d.]+(?:\s?-\s?[\d.]+)?\s?[\p{L}°%]{0,8}\s?:/u

function readPairs(text: string, hints: ValueHints): ValueReading {
  const pairs: { at: number; value: number }[] = []
  let atUnit: string | null = null
  let unit: string | null = null
  for (const part of text.split(text.includes(';') ? ';' : ',')) {
    const colon = part.indexOf(':')
    if (colon < 0) return unclear(`"${part.trim()}" lacks its place: write "place: value", parts with commas between them, or with semicolons where figures have a decimal comma.`)
    const places = readPlaces(part.slice(0, colon).trim(), hints.decimal)
    const figure = readFigure(part.slice(colon + 1).trim(), hints.decimal)
    if (figure === null || 'sentence' in figure) return unclear(figure === null ? `"${part.slice(colon + 1).trim()}" is no figure.` : figure.sentence)
    if ('sentence' in places) return unclear(places.sentence)
    const otherUnit = clash(atUnit, places.unit) ?? clash(unit, figure.unit)
    if (otherUnit !== null) return unclear(`Two units stand in one row, ${otherUnit}: write all in one.`)
    atUnit ??= places.unit
    unit ??= figure.unit
    for (const at of places.places) pairs.push({ at, value: figure.value })
  }
  const twice = pairs.find(({ at }, index) => pairs.findIndex((other) => other.at === at) !== index)
  if (twice !== undefined) return unclear(`${twice.at} stands there twice.`)
  if (pairs.length > MOST_PAIRS) return unclear(`There are ${pairs.length} places; at most ${MOST_PAIRS} are read.`)
  const filledUnit = unit === null && hints.unit !== undefined && hints.unit !== '' ? hints.unit : null
  const common = { unit: unit ?? filledUnit ?? '', ...(atUnit === null || atUnit === '' ? {} : { atUnit }) }
  const rows = pairs.map(({ at, value }): [number, number] => [at, value])
  const isCurve = hints.shape === 'curve' || (hints.shape !== 'table' && (common.atUnit !== undefined || pairs.some(({ at }) => !Number.isInteger(at))))
  return { status: 'read', asked: isCurve ? { shape: 'curve', points: rows, ...common } : { shape: 'table', rows, ...common }, filledUnit }
}

const MOST_PAIRS = 200

function clash(one: string | null, other: string | null): string | null {
  return one === null || other === null || one === other ? null : `${one} and ${other}`
}

/** "8", "0.8 V", or the whole numbers of "2-4". */
function readPlaces(text: string, decimal: '.' | ',' | undefined): { readonly places: readonly number[]; readonly unit: string | null } | { readonly sentence: string } {
  const range = /^(\d{1,4})\s?-\s?(\d{1,4})$/.exec(text)
  if (range !== null) {
    const [from, to] = [Number(range[1]), Number(range[2])]
    if (to < from || to - from > MOST_PAIRS) return { sentence: `${text} is no range from the lower to the higher.` }
    return { places: Array.from({ length: to - from + 1 }, (_, index) => from + index), unit: null }
  }
  const figure = readFigure(text, decimal)
  if (figure === null) return { sentence: `"${text}" is no place of a table or curve.` }
  return 'sentence' in figure ? figure : { places: [figure.value], unit: figure.unit }
}
