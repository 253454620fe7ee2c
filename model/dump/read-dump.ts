/**
 * Reads a settings dump: a text of names and values in any plain layout. What stands between name and value is found out over the whole text; headings in
 * brackets, between rules, or by indentation become the path of what follows. Every line is accounted for: an entry, a heading, a remark, blank, or unread.
 *
 * One pass with a fixed amount of work a character: no pattern here looks back, so no text can make it slow.
 */
import { SpokenError } from '../errors.ts'
import { columnOf, splitAt, splitAtColumn, type DumpSeparator } from './separators.ts'
import { readJsonDump } from './json-dump.ts'

export interface DumpEntry {
  /** From 1. */
  readonly line: number
  /** Headings above it, the outermost first. */
  readonly path: readonly string[]
  readonly name: string
  readonly value: string
}

export interface ReadDump {
  readonly separator: DumpSeparator
  readonly entries: readonly DumpEntry[]
  readonly unread: readonly { readonly line: number; readonly sentence: string }[]
  readonly lines: { readonly all: number; readonly entries: number; readonly headings: number; readonly remarks: number; readonly blank: number; readonly unread: number }
}

/** Throws a sentence where the text is no settings dump. A layout that is known says its separator. */
export function readDump(text: string, known?: DumpSeparator): ReadDump {
  if (text.length > MOST_CHARACTERS) throw refusal('dump-too-long', `it has ${(text.length / 1e6).toFixed(1)} million characters; a settings dump has at most ${MOST_CHARACTERS / 1e6} million.`, 'Cut it down to the part with the settings.')
  if (text.trim() === '') throw refusal('dump-empty', 'there is nothing in it.', 'Paste the text, or drop the file.')
  if (isBinary(text)) throw refusal('dump-binary', 'this is no text.', 'Save it as text where it comes from; keep pictures and other files as evidence.')
  const json = known === undefined || known === 'json' ? readJsonDump(text) : null
  if (json !== null) {
    if (json.length === 0) throw nothingFound()
    return { separator: 'json', entries: enough(json), unread: [], lines: { all: json.length, entries: json.length, headings: 0, remarks: 0, blank: 0, unread: 0 } }
  }
  const lines = linesOf(text)
  const separator = known ?? findSeparator(lines)
  if (separator === null || separator === 'json') throw nothingFound()
  const read = readLines(lines, separator)
  if (read.entries.length === 0) throw nothingFound()
  return { separator, ...read, entries: enough(read.entries) }
}

/** A dump of a board has some thousand lines of some fifty characters. */
export const MOST_CHARACTERS = 4_000_000
/** As a layout's record allows. */
const MOST_ENTRIES = 5000
const LONGEST_LINE = 2000
const LONGEST_NAME = 200
const LONGEST_HEADING = 100

function refusal(code: string, message: string, mend: string): SpokenError {
  return new SpokenError({ code, place: 'settings dump', message, mend })
}

function nothingFound(): SpokenError {
  return refusal('dump-no-settings', 'no line has a name and a value.', 'A line may be "name: value", "name = value", "name ..... value", or columns with tabs, commas or at least two blanks between them.')
}

function enough(entries: readonly DumpEntry[]): readonly DumpEntry[] {
  if (entries.length <= MOST_ENTRIES) return entries
  throw refusal('dump-too-many', `it has ${entries.length} settings; at most ${MOST_ENTRIES} are read.`, 'Cut it down to the part with the settings.')
}

/** A zero byte, or control characters among more than one in a hundred of the first ones. */
function isBinary(text: string): boolean {
  const looked = Math.min(text.length, LOOKED_AT)
  let odd = 0
  for (let index = 0; index < looked; index++) {
    const code = text.charCodeAt(index)
    if (code === 0) return true
    if ((code < 32 && code !== 9 && code !== 10 && code !== 13 && code !== 12) || code === 0xfffd) odd += 1
  }
  return odd * 100 > looked
}

const LOOKED_AT = 20_000

interface Line {
  readonly number: number
  readonly indent: number
  readonly text: string
  readonly kind: 'text' | 'blank' | 'remark' | 'too long'
}

function linesOf(text: string): readonly Line[] {
  return text.replace(/^\ufeff/, '').split(/\r\n|\n|\r/).map((raw, index) => {
    const number = index + 1
    if (raw.length > LONGEST_LINE) return { number, indent: 0, text: `${raw.length}`, kind: 'too long' }
    const plain = raw.trim()
    const kind = plain === '' ? 'blank' : plain.startsWith('#') || plain.startsWith('//') || plain.startsWith(';') ? 'remark' : 'text'
    return { number, indent: raw.length - raw.trimStart().length, text: plain, kind }
  })
}

/** The one that splits most lines; where several do, the stricter. */
function findSeparator(lines: readonly Line[]): DumpSeparator | null {
  const texts = lines.filter(({ kind, text }) => kind === 'text' && headingOf(text) === null)
  let best: { readonly separator: DumpSeparator; readonly count: number } | null = null
  for (const separator of ORDER) {
    let count = 0
    for (const { text } of texts) if (splitAt(text, separator) !== null) count += 1
    if (count > 0 && (best === null || count > best.count * CLEARLY_MORE)) best = { separator, count }
  }
  return best?.separator ?? null
}

/** From the strictest to the loosest: a colon may also stand inside a value. */
const ORDER: readonly DumpSeparator[] = ['leaders', 'tab', '=', ':', ';', 'columns', ',']
/** A looser separator must split this many times as many lines as a stricter one. */
const CLEARLY_MORE = 1.2

function readLines(lines: readonly Line[], separator: DumpSeparator): Omit<ReadDump, 'separator'> {
  const entries: DumpEntry[] = []
  const unread: { line: number; sentence: string }[] = []
  const counts = { all: lines.length, entries: 0, headings: 0, remarks: 0, blank: 0, unread: 0 }
  /** Headings that hold now; `under` is the least indentation of what belongs to one. */
  let open: { readonly text: string; readonly indent: number; readonly under: number }[] = []
  const nextIndent = indentsAfter(lines)
  const column = separator === 'columns' ? usualColumn(lines) : null
  for (const [index, { number, indent, text, kind }] of lines.entries()) {
    if (kind === 'blank') counts.blank += 1
    else if (kind === 'remark') counts.remarks += 1
    else if (kind === 'too long') {
      counts.unread += 1
      unread.push({ line: number, sentence: `line ${number} has ${text} characters; lines of up to ${LONGEST_LINE} are read.` })
    } else {
      const marked = headingOf(text)
      const parts = marked === null ? (splitAt(text, separator) ?? (column === null ? null : splitAtColumn(text, column - indent)) ?? splitOtherwise(text, separator)) : null
      const heading = marked ?? (parts === null ? plainHeading(text, separator) : null)
      if (parts !== null && parts.name.length <= LONGEST_NAME) {
        counts.entries += 1
        open = open.filter(({ under }) => under <= indent)
        entries.push({ line: number, path: open.map((each) => each.text), ...parts })
      } else if (heading !== null) {
        counts.headings += 1
        // A heading in brackets stands above everything that follows; one by indentation ends those as deep as itself.
        open = marked === null ? open.filter((each) => each.indent < indent && each.under <= indent) : []
        const deeper = (nextIndent[index] ?? 0) > indent
        open.push({ text: heading, indent: marked === null ? indent : -1, under: marked === null && deeper ? indent + 1 : marked === null ? indent : 0 })
      } else if (isClosing(text)) counts.headings += 1
      else {
        counts.unread += 1
        unread.push({ line: number, sentence: parts === null ? `line ${number} has no name and value: ${quoted(text)}` : `line ${number} has a name of ${parts.name.length} characters; at most ${LONGEST_NAME} are read.` })
      }
    }
  }
  return { entries, unread, lines: counts }
}

/** Two layouts in one text: what no heading holds still splits a line that the usual separator doesn't. A colon may stand in a heading. */
function splitOtherwise(text: string, usual: DumpSeparator): ReturnType<typeof splitAt> {
  for (const other of NOT_IN_HEADINGS) {
    const parts = other === usual ? null : splitAt(text, other)
    if (parts !== null) return parts
  }
  return null
}

const NOT_IN_HEADINGS: readonly DumpSeparator[] = ['leaders', 'tab', '=']

/** Where the values of most lines begin; null where they begin anywhere. */
function usualColumn(lines: readonly Line[]): number | null {
  const counts = new Map<number, number>()
  let all = 0
  for (const { kind, indent, text } of lines) {
    const column = kind === 'text' ? columnOf(text) : -1
    if (column < 0) continue
    all += 1
    counts.set(column + indent, (counts.get(column + indent) ?? 0) + 1)
  }
  const [best] = [...counts].toSorted((a, b) => b[1] - a[1])
  return best !== undefined && best[1] * 2 > all ? best[0] : null
}

/** Indentation of the next line of text after each. */
function indentsAfter(lines: readonly Line[]): readonly (number | undefined)[] {
  const after: (number | undefined)[] = []
  let next: number | undefined
  for (let index = lines.length - 1; index >= 0; index--) {
    after[index] = next
    if (lines[index].kind === 'text') next = lines[index].indent
  }
  return after
}

/** "[Memory]", "=== Memory ===", "--- Memory ---": the words; null for any other line. */
function headingOf(text: string): string | null {
  if (text.startsWith('[') && text.endsWith(']') && text.length > 2) return headingText(text.slice(1, -1))
  const ruled = stripRule(text)
  return ruled === null ? null : headingText(ruled)
}

/** A line with no value: "Memory:", "Memory", and in the manner of JSON "Memory: {". */
function plainHeading(text: string, separator: DumpSeparator): string | null {
  let words = text
  while (words.length > 0 && ':={[,"\''.includes(words.charAt(words.length - 1))) words = words.slice(0, -1).trimEnd()
  words = words.replaceAll('"', '').trim()
  if (words === '' || !/^[\p{L}\d]/u.test(words) || words.length > LONGEST_HEADING) return null
  // A sentence, or a value without a name, is no heading.
  if (words.endsWith('.') || (text === words && separator !== 'columns' && words.split(' ').length > MOST_WORDS)) return null
  return words
}

const MOST_WORDS = 7

function headingText(text: string): string | null {
  const plain = text.trim()
  return plain !== '' && plain.length <= LONGEST_HEADING && /[\p{L}\d]/u.test(plain) ? plain : null
}

/** Rules of at least two of the same mark at the left, and maybe at the right. */
function stripRule(text: string): string | null {
  const mark = text.charAt(0)
  if (!'=-*~+'.includes(mark) || text.charAt(1) !== mark) return null
  let from = 0
  while (from < text.length && text.charAt(from) === mark) from += 1
  let to = text.length
  while (to > from && text.charAt(to - 1) === mark) to -= 1
  return text.slice(from, to)
}

function isClosing(text: string): boolean {
  for (const letter of text) if (!'{}[](),;=-*~+_'.includes(letter)) return false
  return true
}

function quoted(text: string): string {
  return text.length > SHOWN ? `"${text.slice(0, SHOWN)} ..."` : `"${text}"`
}

const SHOWN = 60
