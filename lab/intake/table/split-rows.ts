// Text to rows of cells, each with its line. Quoted cells may hold line breaks; a quote that is not closed is found where it was opened.
import type { Problems } from './problems.ts'

export interface Row {
  /** The line that it begins on, counted from 1. */
  readonly line: number
  /** How many lines it covers. */
  readonly span: number
  readonly cells: readonly string[]
}

export interface SplitTable {
  /** Every line of the text stands in one row; a blank line is a row of blank cells. Lines with a broken quote are not among them. */
  readonly rows: readonly Row[]
  readonly brokenLines: number
}

/** `usualCells` is how many cells lines of this table have: it tells a cell of several lines from a quote that swallows rows. */
export function splitRows(text: string, { separator, usualCells }: { readonly separator: string; readonly usualCells: number }, problems: Problems): SplitTable {
  const rows: Row[] = []
  let line = 1
  let at = 0
  let brokenLines = 0
  while (at < text.length) {
    const feed = text.indexOf('\n', at)
    const end = feed === -1 ? text.length : feed
    const physical = text.slice(at, end)
    if (!physical.includes('"')) {
      rows.push({ line, span: 1, cells: physical.split(separator) })
      at = end + 1
      line += 1
      continue
    }
    const read = readQuotedRow(text, at, separator)
    const fault = read.fault ?? swallowed(text, at, read, { separator, usualCells })
    if (fault !== undefined) {
      problems.add({ line: line + fault.after }, fault.message, fault.mend)
      // What stands below is read on its own, so that each broken line is named.
      for (let skipped = 0; skipped <= fault.after; skipped++) {
        const next = text.indexOf('\n', at)
        at = next === -1 ? text.length : next + 1
        line += 1
        brokenLines += 1
      }
      continue
    }
    rows.push({ line, span: read.span, cells: read.cells })
    at = read.end + 1
    line += read.span
  }
  return { rows, brokenLines }
}

/** Counted from the text alone, to hold what was read against. */
export function countLines(text: string): number {
  let lines = text === '' || text.endsWith('\n') ? 0 : 1
  for (let feed = text.indexOf('\n'); feed !== -1; feed = text.indexOf('\n', feed + 1)) lines += 1
  return lines
}

interface Fault {
  /** Lines below the one that the row begins on. */
  readonly after: number
  readonly message: string
  readonly mend: string
}

interface QuotedRow {
  readonly cells: readonly string[]
  /** Of the line feed that ends it, or of the text. */
  readonly end: number
  readonly span: number
  readonly fault?: Fault
}

const UNCLOSED = 'a quote is opened and not closed'
const CLOSE = 'Close it, or double a quote that belongs to the text.'

function readQuotedRow(text: string, from: number, separator: string): QuotedRow {
  const cells: string[] = []
  let at = from
  let span = 1
  const broken = (after: number, message: string, mend: string): QuotedRow => ({ cells, end: at, span, fault: { after, message, mend } })
  for (;;) {
    let open = at
    while (text[open] === ' ') open += 1
    if (text[open] === '"') {
      const openedAfter = span - 1
      let cell = ''
      let piece = open + 1
      for (;;) {
        const quote = text.indexOf('"', piece)
        if (quote === -1) return broken(openedAfter, `${UNCLOSED} on this line.`, CLOSE)
        cell += text.slice(piece, quote)
        piece = quote + 1
        if (text[piece] !== '"') break
        cell += '"'
        piece += 1
      }
      span += cell.split('\n').length - 1
      while (text[piece] === ' ') piece += 1
      const next = text[piece]
      if (next !== undefined && next !== '\n' && next !== separator) {
        // After a cell of several lines it is the opening quote that is in doubt.
        if (cell.includes('\n')) return broken(openedAfter, `${UNCLOSED} on this line.`, CLOSE)
        return broken(span - 1, 'a quote stands in the middle of a cell.', 'Put the whole cell in quotes and double the quote inside it.')
      }
      cells.push(cell)
      if (next !== separator) return { cells, end: piece, span }
      at = piece + 1
      continue
    }
    const nextSeparator = text.indexOf(separator, at)
    const feed = text.indexOf('\n', at)
    const lineEnd = feed === -1 ? text.length : feed
    const end = nextSeparator === -1 || nextSeparator > lineEnd ? lineEnd : nextSeparator
    const cell = text.slice(at, end)
    if (cell.includes('"')) return broken(span - 1, 'a quote stands in the middle of a cell.', 'Put the whole cell in quotes and double the quote inside it.')
    cells.push(cell)
    if (end === lineEnd) return { cells, end, span }
    at = end + 1
  }
}

/** A cell of several lines that holds whole lines of the table is a quote that was never closed. */
function swallowed(text: string, from: number, row: QuotedRow, { separator, usualCells }: { readonly separator: string; readonly usualCells: number }): Fault | undefined {
  if (row.span === 1 || usualCells < 2) return undefined
  const [first, ...below] = text.slice(from, row.end).split('\n')
  const isWhole = (line: string): boolean => line.split(separator).length >= usualCells
  const last = below.length - 1
  if (!below.some((line, index) => isWhole(line) && (index < last || isWhole(first)))) return undefined
  return { after: 0, message: `${UNCLOSED} on this line: it runs on over ${row.span} lines of the table.`, mend: CLOSE }
}
