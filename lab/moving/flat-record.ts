// A record as one row of cells and back: fields of fields become columns with dots in their names; lists stay JSON in their cell.
import { canonicalJson } from '@guardband/model'
import type { Column } from './format.ts'

export type Leaf = string | number | boolean | readonly unknown[] | Readonly<Record<string, never>> | null

/** Path and value of every leaf, in the record's own order. `kind` is left out: the file says it. */
export function leavesOf(record: object): readonly (readonly [path: string, leaf: Leaf])[] {
  return leaves('', record).filter(([path]) => path !== 'kind')
}

/** The type that all leaves of one column share; JSON where they share none. */
export function typeOf(leaf: Leaf): Column['as'] {
  switch (typeof leaf) {
    case 'string':
      return 'text'
    case 'number':
      return 'number'
    case 'boolean':
      return 'true or false'
    default:
      return 'json'
  }
}

/** The text of a cell. A guard before text that a spreadsheet would run, that begins with a guard, or that is empty: an empty cell is a field that is not there. */
export function cellText(leaf: Leaf | undefined, as: Column['as']): string {
  if (leaf === undefined) return ''
  if (as === 'json' || typeof leaf === 'object') return canonicalJson(leaf)
  return as === 'text' ? guarded(String(leaf)) : String(leaf)
}

/** Undoes cellText. Returns a sentence's middle where it can't. */
export function leafOf(cell: string, as: Column['as']): { readonly leaf: unknown } | { readonly wrong: string } {
  switch (as) {
    case 'text':
      return { leaf: cell.startsWith(GUARD) ? cell.slice(1) : cell }
    case 'number':
      return NUMBER.test(cell) && Number.isFinite(Number(cell)) ? { leaf: Number(cell) } : { wrong: `must be a number with a decimal point; got "${cell.slice(0, SHOWN)}"` }
    case 'true or false':
      return cell === 'true' || cell === 'false' ? { leaf: cell === 'true' } : { wrong: `must be true or false; got "${cell.slice(0, SHOWN)}"` }
    case 'json':
      try {
        return { leaf: JSON.parse(cell) as unknown }
      } catch {
        return { wrong: `must be JSON; got "${cell.slice(0, SHOWN)}"` }
      }
  }
}

/** Puts a leaf where its path says. */
export function setLeafInto(record: Record<string, unknown>, path: string, leaf: unknown): void {
  const steps = path.split('.')
  const last = steps.pop() ?? path
  let at = record
  for (const step of steps) {
    // Own fields only: a path must not reach what every object has.
    const inner: unknown = Object.hasOwn(at, step) ? at[step] : undefined
    const next: Record<string, unknown> = isPlainObject(inner) ? inner : {}
    at[step] = next
    at = next
  }
  at[last] = leaf
}

/** Cells that begin so are run as formulas by spreadsheets, or hide the sign that is; the wide forms are read as the narrow ones by some. */
export function guarded(text: string): string {
  return text === '' || text.startsWith(GUARD) || FORMULA.test(text) ? GUARD + text : text
}

const GUARD = "'"
const FORMULA = /^[=+\-@\t\r\n\uff1d\uff0b\uff0d\uff20]/
const NUMBER = /^-?\d+(?:\.\d+)?(?:e[+-]?\d+)?$/i
const SHOWN = 60

function leaves(before: string, value: object): (readonly [string, Leaf])[] {
  return Object.entries(value).flatMap(([key, inner]: [string, unknown]): (readonly [string, Leaf])[] => {
    const path = before === '' ? key : `${before}.${key}`
    return isPlainObject(inner) && Object.keys(inner).length > 0 ? leaves(path, inner) : [[path, inner as Leaf]]
  })
}

function isPlainObject(value: unknown): value is Record<string, unknown> {
  return typeof value === 'object' && value !== null && !Array.isArray(value)
}
