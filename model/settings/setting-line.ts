// One setting as one line: "core voltage @ core 3 = 1.25 V". What the editor shows, what it reads, and what a difference is copied as.
import { settingKey } from '../ceilings.ts'
import { scopeSchema, type Scope, type Setting, type SettingKind } from '../records/tune.ts'
import type { KnownSetting, SettingBook } from './setting-book.ts'
import { readFigure, readValue } from './read-value.ts'

export type LineReading =
  | { readonly status: 'empty' }
  | { readonly status: 'unclear'; readonly sentence: string }
  | { readonly status: 'read'; readonly setting: Setting; /** Null: nobody has used this key yet. */ readonly known: KnownSetting | null; readonly filledUnit: string | null }

/** "core ratio = 54", "vcore 1.25 V", "fan policy quiet" (where the key is known), "core voltage @ core 3 = -25 mV". A line that begins with # is a remark. */
export function readSettingLine(line: string, book: SettingBook): LineReading {
  const text = line.trim()
  if (text === '' || text.startsWith('#')) return { status: 'empty' }
  if (text.length > LONGEST_LINE) return { status: 'unclear', sentence: `The line has ${text.length} characters; a setting has at most ${LONGEST_LINE}.` }
  const parts = splitLine(text, book)
  if (parts === null) {
    const known = book.find(splitScope(text).key)
    return { status: 'unclear', sentence: known === undefined ? whereItBegins(text) : `"${known.key}" has no value yet.` }
  }
  const place = splitScope(parts.key)
  if (place.key === '') return { status: 'unclear', sentence: 'The name of the setting is missing before the value.' }
  if (place.key.length > LONGEST_KEY) return { status: 'unclear', sentence: `A name has at most ${LONGEST_KEY} characters; this one has ${place.key.length}.` }
  const known = book.find(place.key) ?? null
  const value = readValue(parts.value, known === null ? {} : { unit: known.unit, shape: known.shape })
  if (value.status === 'unclear') return value
  const scope: Scope = place.scope ?? { level: known?.level ?? 'machine' }
  return { status: 'read', setting: { key: known?.key ?? place.key, scope, asked: value.asked }, known, filledUnit: value.filledUnit }
}

/** Of a name that nobody has used yet, the last word is the likeliest value. */
function whereItBegins(text: string): string {
  const last = text.lastIndexOf(' ')
  return `Where does the value begin? Write ${last < 0 ? `"${text} = value"` : `"${text.slice(0, last).trimEnd()} = ${text.slice(last + 1)}" or the like`}.`
}

/** A setting as a person would type it: plain digits, no figure lost. Reads back as the same setting. */
export function settingLine({ key, scope, asked }: Setting, kind?: Pick<SettingKind, 'level'>): string {
  const own = scope.index === undefined && scope.level === (kind?.level ?? 'machine')
  return `${key}${own ? '' : ` @ ${scopeName(scope)}`} = ${typedValue(asked)}`
}

/** "core 3", "channel A", "package". */
export function scopeName({ level, index }: Scope): string {
  return index === undefined ? level : `${level} ${index}`
}

export function typedValue(asked: Setting['asked']): string {
  switch (asked.shape) {
    case 'auto':
    case 'unchanged':
      return asked.shape
    case 'mode':
      return asked.mode
    case 'scalar':
      return typedFigure(asked.value, asked.unit)
    case 'table':
      return stretches(asked.rows, asked.atUnit).map(({ at, value }) => `${at}: ${typedFigure(value, asked.unit)}`).join(', ')
    case 'curve':
      return asked.points.map(([at, value]) => `${typedFigure(at, asked.atUnit ?? '')}: ${typedFigure(value, asked.unit)}`).join(', ')
  }
}

/** Whole numbers in a row with the same value as one stretch: "2-4". */
function stretches(rows: readonly (readonly [number, number])[], atUnit = ''): readonly { readonly at: string; readonly value: number }[] {
  const out: { from: number; to: number; value: number }[] = []
  for (const [at, value] of rows) {
    const last = out.at(-1)
    if (atUnit === '' && last?.value === value && Number.isInteger(at) && last.from >= 0 && at === last.to + 1) last.to = at
    else out.push({ from: at, to: at, value })
  }
  return out.map(({ from, to, value }) => ({ at: from === to ? typedFigure(from, atUnit) : `${from}-${to}`, value }))
}

function typedFigure(value: number, unit: string): string {
  return unit === '' || unit === '1' ? String(value) : `${value} ${unit}`
}

const LONGEST_LINE = 2400
/** As the records allow. */
const LONGEST_KEY = 200

interface LineParts {
  readonly key: string
  readonly value: string
}

/** At the equals sign; else after a key that is known; else at a colon; else where a figure, auto or unchanged begins and lasts to the end. */
function splitLine(text: string, book: SettingBook): LineParts | null {
  const equals = text.indexOf('=')
  if (equals >= 0) return { key: text.slice(0, equals).trim(), value: text.slice(equals + 1).trim() }
  const words = text.split(/\s+/)
  const colon = text.search(/:(?!\d)/)
  const beforeColon = colon < 0 ? null : text.slice(0, colon).trim()
  if (beforeColon !== null && (book.find(splitScope(beforeColon).key) !== undefined || !/\d/.test(beforeColon))) return { key: beforeColon, value: text.slice(colon + 1).trim() }
  let named: LineParts | null = null
  for (let count = Math.min(words.length - 1, MOST_KEY_WORDS); count > 0; count--) {
    const key = words.slice(0, count).join(' ')
    const place = splitScope(key)
    const known = book.find(place.key)
    if (known === undefined) continue
    const value = words.slice(count).join(' ')
    // "core ratio @ core 3 54": the scope's index is no value.
    if (place.scope === null && value.startsWith('@')) continue
    if (place.scope !== null && place.scope.index === undefined && words.length > count + 1 && splitScope(words.slice(0, count + 1).join(' ')).scope?.index !== undefined) continue
    // "core voltage offset -25 mV" is no word for core voltage, but a key that nobody used before.
    if (known.shape === 'mode' || isPlainValue(value)) return { key, value }
    named ??= { key, value }
  }
  for (let count = 1; count < words.length; count++) {
    const value = words.slice(count).join(' ')
    if (isPlainValue(value)) return { key: words.slice(0, count).join(' '), value }
  }
  if (named !== null) return named
  return beforeColon === null || beforeColon === '' || readFigure(beforeColon) !== null ? null : { key: beforeColon, value: text.slice(colon + 1).trim() }
}

const MOST_KEY_WORDS = 12

function isPlainValue(text: string): boolean {
  if (!/^[+\-\u2212.\d]|^(?:auto|unchanged)$/i.test(text)) return false
  if (/^\d{1,4}:\d{1,4}$/.test(text)) return true
  const value = readValue(text)
  return value.status === 'unclear' || value.asked.shape !== 'mode'
}

/** "vcore @ core 3", "vcore, core 3", "vcore [channel A]": the key, and where it is set if that is said. */
function splitScope(text: string): { readonly key: string; readonly scope: Scope | null } {
  const marked = /^(.*?)(?:\s?@\s?|,\s?)([\p{L} ]+?)(?:\s([\p{L}\d_-]{1,40}))?$/u.exec(text.replace(/\s?\[([^\]]*)\]$/, ' @ $1'))
  if (marked === null) return { key: text.trim(), scope: null }
  const [, key = '', words = '', index] = marked
  const whole = scopeSchema.shape.level.safeParse(settingKey(index === undefined ? words : `${words} ${index}`))
  if (whole.success) return { key: key.trim(), scope: { level: whole.data } }
  const level = scopeSchema.shape.level.safeParse(settingKey(words))
  if (!level.success || index === undefined) return { key: text.trim(), scope: null }
  return { key: key.trim(), scope: { level: level.data, index } }
}
