// How a file writes its numbers: which mark stands before the decimals, which between thousands, settled by the file's own numbers or asked.
import type { IntakeChoices } from '@guardband/model'
import { knownUnit } from './headers.ts'

export interface NumberStyle {
  readonly decimal: '.' | ','
  readonly thousands: 'none' | ',' | '.' | ' ' | "'"
}

/** A cell whose marks can be read in two ways. */
export interface OpenNumber {
  readonly about: 'decimal' | 'thousands'
  readonly cell: string
  readonly line: number
  readonly column: string
}

export interface FoundStyle {
  readonly style: NumberStyle
  readonly open: OpenNumber | undefined
}

export interface NumberCell {
  readonly cell: string
  readonly line: number
  readonly column: string
}

/** Looks at every number of the file. A comma-separated file has decimal points unless its own numbers say otherwise. `each` shows the cells one after the other, in an object that it uses again. */
export function findNumberStyle(each: (look: (found: NumberCell) => void) => void, separator: string, said: Pick<IntakeChoices, 'decimal' | 'thousands'>): FoundStyle {
  const seen = { '.': 0, ',': 0 }
  const proven = new Set<NumberStyle['thousands']>()
  const unclear = new Map<'.' | ',', NumberCell>()
  const checked = new Set<string>()
  each((found) => {
    // Most numbers of a table have been seen before, or carry no mark.
    if (PLAIN.test(found.cell) || checked.has(found.cell)) return
    if (checked.size < MOST_REMEMBERED) checked.add(found.cell)
    const parts = NUMBER.exec(found.cell)
    if (parts === null) return
    const digits = parts[1]
    if (GROUPED_BY_SPACE.test(digits)) proven.add(' ')
    if (/['\u2019]/.test(digits)) proven.add("'")
    const marks: readonly string[] = digits.match(/[.,]/g) ?? []
    if (marks.length === 0) return
    const last = marks[marks.length - 1] as '.' | ','
    const other = last === '.' ? ',' : '.'
    if (marks.includes(other)) {
      seen[last] += 1
      proven.add(other)
    } else if (marks.length > 1) {
      seen[other] += 1
      proven.add(last)
    } else if (MAYBE_THOUSANDS.test(digits)) {
      if (!unclear.has(last)) unclear.set(last, { ...found })
    } else seen[last] += 1
  })
  const decimal = said.decimal ?? (seen['.'] === 0 && seen[','] === 0 ? undefined : seen[','] > seen['.'] ? ',' : '.')
  const openCell = unclear.get('.') ?? unclear.get(',')
  if (decimal === undefined) {
    const spaced = proven.has(' ') ? ' ' : proven.has("'") ? "'" : undefined
    // Marked thousands elsewhere leave the one mark left to the decimals.
    if (spaced !== undefined) return { style: { decimal: unclear.has(',') ? ',' : '.', thousands: spaced }, open: undefined }
    const plain: NumberStyle = { decimal: '.', thousands: said.thousands ?? 'none' }
    if (openCell === undefined || (separator === ',' && !unclear.has(','))) return { style: plain, open: undefined }
    return { style: plain, open: { about: 'decimal', ...openCell } }
  }
  const other = decimal === '.' ? ',' : '.'
  const thousands = said.thousands ?? ([other, ' ', "'"] as const).find((mark) => proven.has(mark))
  const style: NumberStyle = { decimal, thousands: thousands ?? (said.decimal !== undefined && unclear.has(other) ? other : 'none') }
  const unread = unclear.get(other)
  // Said decimals settle it: what is left between three digits can only part thousands.
  if (unread !== undefined && thousands === undefined && said.decimal === undefined) return { style, open: { about: 'thousands', ...unread } }
  return { style, open: undefined }
}

/** Enough that a column of repeated marks costs nothing; a bound, since every cell may differ. */
const MOST_REMEMBERED = 5000
const PLAIN = /^-?\d+$/
const SPACES = '\\s\\u00A0\\u2009\\u202F'
const NUMBER = new RegExp(`^[+\\u2212-]?((?:\\d[\\d.,'\\u2019${SPACES}]*|[.,]\\d+)(?:e[+-]?\\d+)?)\\s*([%°µμA-Za-z/().]{0,12})$`, 'i')
const GROUPED_BY_SPACE = new RegExp(`\\d[${SPACES}]\\d`)
const MAYBE_THOUSANDS = /^[1-9]\d{0,2}[.,]\d{3}$/

export type ReadNumber =
  | { readonly is: 'number'; readonly value: number; readonly unit?: string }
  | { readonly is: 'fault'; readonly message: string; readonly mend: string }
  | { readonly is: 'word' }

/** Reads one cell: a number with or without its unit, a fault that can be named, or a word. */
export function createNumberReader({ decimal, thousands }: NumberStyle): (cell: string) => ReadNumber {
  const other = decimal === '.' ? ',' : '.'
  const plain = decimal === '.' ? /^[+-]?(\d+\.?\d*|\.\d+)$/ : /^[+-]?\d+$/
  const mark = thousands === ' ' ? `[${SPACES}]` : thousands === "'" ? "['\u2019]" : thousands === 'none' ? '(?!)' : `\\${thousands}`
  const whole = new RegExp(`^(?:(?:\\d+|\\d{1,3}(?:${mark}\\d{3})+)(?:\\${decimal}\\d*)?|\\${decimal}\\d+)(?:e[+-]?\\d+)?$`, 'i')
  const marks = new RegExp(mark, 'g')
  return (cell) => {
    if (plain.test(cell)) return finite(Number(cell), cell)
    if (INFINITE.test(cell)) return { is: 'fault', message: `a value must be finite; got ${cell}.`, mend: 'Leave the cell empty and give the outcome.' }
    const parts = NUMBER.exec(cell)
    if (parts === null) return { is: 'word' }
    const digits = parts[1].trim()
    const unitText = parts[2]
    const unit = unitText === '' ? undefined : knownUnit(unitText)
    if (unitText !== '' && unit === undefined) return { is: 'word' }
    if (!whole.test(digits)) {
      if (digits.includes(other) && thousands !== other) {
        const [has, have] = other === '.' ? ['point', 'decimal comma'] : ['comma', 'decimal point']
        return { is: 'fault', message: `${cell} has a ${has}, while other numbers of this file have a ${have}.`, mend: 'Use one of the two throughout, or say how the numbers are to be read.' }
      }
      return { is: 'fault', message: `"${cell}" is not a number as the others of this file are written.`, mend: 'Write the thousands marks between each three digits, or take them out.' }
    }
    const text = digits.replaceAll(marks, '').replace(decimal, '.')
    return finite(Number(/^[-\u2212]/.test(cell) ? `-${text}` : text), cell, unit)
  }
}

const INFINITE = /^([+-]?(inf|infinity|∞)|[+-]?\d[\d.]*e\+?\d{3,})$/i

function finite(value: number, cell: string, unit?: string): ReadNumber {
  if (!Number.isFinite(value)) return { is: 'fault', message: `a value must be finite; got ${cell}.`, mend: 'Leave the cell empty and give the outcome.' }
  return { is: 'number', value, ...(unit === undefined ? {} : { unit }) }
}
