// How one line is split into name and value, by each thing that may stand between them. Every split looks at each character a fixed number of times.
import type { DumpLayout } from '../records/layout.ts'

export type DumpSeparator = DumpLayout['separator']

/** Null where the line has no such separator, or nothing on one side of it. */
export function splitAt(line: string, separator: DumpSeparator): { readonly name: string; readonly value: string } | null {
  switch (separator) {
    case 'json':
      return null
    case 'leaders':
      return splitAtLeaders(line)
    case 'tab':
      return partsOf(line, line.indexOf('\t'), 1)
    case 'columns':
      return splitAtColumns(line)
    case '=':
      return partsOf(line, line.indexOf('='), 1)
    case ':':
      return partsOf(line, colonOf(line), 1)
    case ';':
    case ',':
      return splitAtMark(line, separator)
  }
}

function partsOf(line: string, at: number, length: number): { readonly name: string; readonly value: string } | null {
  if (at <= 0) return null
  const name = unquoted(line.slice(0, at))
  const value = unquoted(line.slice(at + length))
  return name === '' || value === '' || isOpening(value) || !/[\p{L}\d]/u.test(name) ? null : { name, value }
}

/** Blanks, quotes and what ends a line in JSON's manner. */
function unquoted(text: string): string {
  let plain = text.trim()
  if (plain.endsWith(',')) plain = plain.slice(0, -1).trimEnd()
  if (plain.length >= 2 && plain.startsWith('"') && plain.endsWith('"')) plain = plain.slice(1, -1).trim()
  return plain
}

/** "Memory: {" opens a section. */
function isOpening(value: string): boolean {
  return value === '{' || value === '['
}

/** At least three dots in a row, or dots with blanks between; a colon or equals sign after them belongs to them. */
function splitAtLeaders(line: string): { readonly name: string; readonly value: string } | null {
  for (let from = line.indexOf('.'); from > 0; from = line.indexOf('.', from + 1)) {
    let to = from
    let dots = 0
    while (to < line.length && (line.charAt(to) === '.' || (line.charAt(to) === ' ' && line.charAt(to + 1) === '.'))) {
      if (line.charAt(to) === '.') dots += 1
      to += 1
    }
    // Where the name is nearly as long as the column is wide, one or two dots between blanks are left.
    if (dots >= FEWEST_DOTS || (line.charAt(from - 1) === ' ' && line.charAt(to) === ' ')) {
      while (to < line.length && ' :=\t'.includes(line.charAt(to))) to += 1
      return partsOf(`${line.slice(0, from)}\t${line.slice(to)}`, from, 1)
    }
    // The run was looked at; it is not looked at again.
    from = Math.max(from, to - 1)
  }
  return null
}

const FEWEST_DOTS = 3

/** The first colon that is not part of a time or a place of a table before the value. */
function colonOf(line: string): number {
  const quote = line.startsWith('"') ? line.indexOf('"', 1) : -1
  return line.indexOf(':', Math.max(0, quote))
}

/** Where the value begins when at least two blanks stand before it; -1 where none do. */
export function columnOf(line: string): number {
  const at = line.indexOf('  ')
  if (at <= 0) return -1
  let to = at
  while (to < line.length && line.charAt(to) === ' ') to += 1
  return to
}

/** For a name so long that only one blank is left before the column in which the values of the others begin. */
export function splitAtColumn(line: string, column: number): { readonly name: string; readonly value: string } | null {
  if (column <= 0 || line.charAt(column - 1) !== ' ' || line.charAt(column) === ' ') return null
  return partsOf(line, column - 1, 1)
}

function splitAtColumns(line: string): { readonly name: string; readonly value: string } | null {
  const column = columnOf(line)
  return column < 0 ? null : partsOf(line, column - 1, 1)
}

/** Two or three fields: name, value, and maybe its unit. */
function splitAtMark(line: string, mark: ';' | ','): { readonly name: string; readonly value: string } | null {
  const fields = fieldsOf(line, mark)
  if (fields.length < 2 || fields.length > 3) return null
  const [name = '', value = '', unit = ''] = fields.map((field) => field.trim())
  return name === '' || value === '' || !/[\p{L}\d]/u.test(name) ? null : { name, value: unit === '' ? value : `${value} ${unit}` }
}

/** Fields with quotes around those that hold the mark; a quote that never closes lasts to the end of the line, no further. */
function fieldsOf(line: string, mark: string): readonly string[] {
  const fields: string[] = []
  let field = ''
  let quotedNow = false
  for (const letter of line) {
    if (letter === '"') quotedNow = !quotedNow
    else if (letter === mark && !quotedNow) {
      fields.push(field)
      field = ''
    } else field += letter
  }
  return [...fields, field]
}
