// The value of a dump's entry: what was asked, what is in force, or both ("Auto [1.25 V]").
import type { Asked, SettingValue } from '../records/tune.ts'
import { readValue } from '../settings/read-value.ts'

export interface DumpValue {
  /** Null where the dump tells only what is in force. */
  readonly asked: Asked | null
  readonly inForce: SettingValue | null
}

export interface DumpValueHints {
  readonly unit?: string
  readonly decimal: '.' | ','
}

/** Null for a value that can't be kept (too long). */
export function readDumpValue(text: string, hints: DumpValueHints): DumpValue | null {
  const outer = wholeBracket(text)
  if (outer !== null) return readDumpValue(outer, hints)
  const tail = bracketAtEnd(text)
  if (tail !== null) {
    // "1.25 V (Auto)" and "Auto [1.25 V]" say the same.
    const [before, inside] = [plainValue(tail.before, hints), plainValue(tail.inside, hints)]
    if (before !== null && inside !== null) {
      if (before.shape === 'auto') return { asked: before, inForce: valueOf(inside) }
      if (inside.shape === 'auto') return { asked: inside, inForce: valueOf(before) }
      if (before.shape === inside.shape && before.shape !== 'mode') return { asked: before, inForce: valueOf(inside) }
    }
  }
  const head = bracketAtStart(text)
  if (head !== null && head.inside.toLowerCase() === 'auto') return { asked: { shape: 'auto' }, inForce: valueOf(plainValue(head.after, hints)) }
  const whole = plainValue(text, hints)
  return whole === null ? null : { asked: whole, inForce: valueOf(whole) }
}

/** The mark before decimals, by the values themselves: a comma only where no value has a point and some comma can be nothing else. */
export function decimalOf(values: readonly string[]): '.' | ',' {
  let commas = 0
  for (const value of values) {
    if (/^[+-]?\d+\.\d/.test(value)) return '.'
    if (/^[+-]?\d+,\d/.test(value)) commas += 1
  }
  return commas > 0 ? ',' : '.'
}

function plainValue(text: string, { unit, decimal }: DumpValueHints): Asked | null {
  const reading = readValue(switchWord(text), { decimal, ...(unit === undefined ? {} : { unit }) })
  return reading.status === 'unclear' ? null : reading.asked
}

/** On and off by their many names, so that two dumps agree. */
function switchWord(text: string): string {
  const word = text.trim().toLowerCase()
  return ON.has(word) ? 'on' : OFF.has(word) ? 'off' : text
}

const ON: ReadonlySet<string> = new Set(['on', 'enabled', 'enable', 'yes', 'true'])
const OFF: ReadonlySet<string> = new Set(['off', 'disabled', 'disable', 'no', 'false'])

function valueOf(asked: Asked | null): SettingValue | null {
  return asked === null || asked.shape === 'auto' || asked.shape === 'unchanged' ? null : asked
}

function wholeBracket(text: string): string | null {
  const plain = text.trim()
  if (plain.length < 3 || !plain.startsWith('[') || !plain.endsWith(']')) return null
  const inside = plain.slice(1, -1)
  return inside.includes('[') || inside.includes(']') ? null : inside
}

function bracketAtEnd(text: string): { readonly before: string; readonly inside: string } | null {
  const plain = text.trim()
  const open = plain.endsWith(']') ? plain.lastIndexOf('[') : plain.endsWith(')') ? plain.lastIndexOf('(') : -1
  if (open <= 0) return null
  return { before: plain.slice(0, open).trim(), inside: plain.slice(open + 1, -1).trim() }
}

function bracketAtStart(text: string): { readonly inside: string; readonly after: string } | null {
  const plain = text.trim()
  const close = plain.startsWith('[') ? plain.indexOf(']') : -1
  return close < 0 || close === plain.length - 1 ? null : { inside: plain.slice(1, close).trim(), after: plain.slice(close + 1).trim() }
}
