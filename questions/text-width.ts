// How wide a line of text may get and where to break it, without a browser: widths are upper bounds over the look's font and common fallbacks.
import { visibleText } from './visible-text.ts'

export interface TextStyle {
  /** CSS pixels. */
  readonly size: number
  readonly face: 'text' | 'mono'
  readonly weight: 'regular' | 'bold'
}

export interface WrappedText {
  readonly lines: readonly string[]
  /** True when the last line ends in an ellipsis for want of room. */
  readonly cut: boolean
}

/** Upper bound of the width of one line, in CSS pixels. */
export function textWidth(text: string, style: TextStyle): number {
  let ems = 0
  for (const character of text) ems += style.face === 'mono' ? monoWidth(character) : characterWidth(character)
  return ems * style.size * (style.weight === 'bold' ? BOLD_FACTOR : 1)
}

/** Breaks at spaces, inside a word only where the word alone is too wide; what doesn't fit in `maxLines` is cut with an ellipsis. */
export function wrapText(text: string, style: TextStyle, room: { readonly width: number; readonly maxLines: number }): WrappedText {
  const words = visibleText(text).split(' ').filter((word) => word !== '')
  const lines: string[] = []
  let line = ''
  let index = 0
  while (index < words.length && lines.length < room.maxLines) {
    const word = words[index]
    const joined = line === '' ? word : `${line} ${word}`
    if (textWidth(joined, style) <= room.width) {
      line = joined
      index += 1
    } else if (line !== '') {
      lines.push(line)
      line = ''
    } else {
      const head = longestStart(word, style, room.width)
      lines.push(head)
      words[index] = word.slice(head.length)
    }
  }
  if (line !== '' && lines.length < room.maxLines) {
    lines.push(line)
    line = ''
  }
  const cut = index < words.length || line !== ''
  if (!cut) return { lines, cut }
  const last = lines.at(-1) ?? ''
  return { lines: [...lines.slice(0, -1), withEllipsis(last, style, room.width)], cut }
}

const ELLIPSIS = '\u2026'
const segmenter = new Intl.Segmenter('en', { granularity: 'grapheme' })

/** At least one grapheme, so that breaking always ends. */
function longestStart(word: string, style: TextStyle, width: number): string {
  let head = ''
  for (const { segment } of segmenter.segment(word)) {
    if (head !== '' && textWidth(head + segment, style) > width) break
    head += segment
  }
  return head
}

function withEllipsis(line: string, style: TextStyle, width: number): string {
  const graphemes = Array.from(segmenter.segment(line), (part) => part.segment)
  while (graphemes.length > 0 && textWidth(graphemes.join('') + ELLIPSIS, style) > width) graphemes.pop()
  return graphemes.join('').trimEnd() + ELLIPSIS
}

// Widths in em, measured as the larger of the look's font and the widest common fallback, rounded up; the browser test holds them to that.
const NARROW = 0.4
const SLIM = 0.52
const USUAL = 0.66
const CAPITAL = 0.82
const BROAD = 1.02
const SQUARE = 1.1
const PICTOGRAPH = 1.45
const MONO = 0.66
const BOLD_FACTOR = 1.16

const narrow = new Set(" ijlI.,:;'|\u00a0\u202f\u00b7")
const slim = new Set('frtJ()[]!`-/\\"*\u00b0\u2010\u2011\u2018\u2019\u201c\u201d')
const broad = new Set('mwMW%@\u00bc\u00bd\u00be\u2014\u2026\u00c6\u00e6\u00a9\u00ae\u2122')
const operators = new Set('+=<>~^#\u00ac\u00d7\u00f7\u2212\u00b1')

function characterWidth(character: string): number {
  if (narrow.has(character)) return NARROW
  if (slim.has(character)) return SLIM
  if (broad.has(character)) return BROAD
  if (operators.has(character)) return CAPITAL + 0.03
  if (/[\p{M}\p{Cf}]/u.test(character)) return 0
  if (/[A-Z&Q\u00c0-\u00de]/u.test(character)) return CAPITAL
  if (/[!-~\u00a1-\u00ff]/u.test(character)) return USUAL
  if (/[\u0100-\u0151\u0154-\u017f]/u.test(character)) return BROAD
  if (/\p{Extended_Pictographic}/u.test(character)) return PICTOGRAPH
  return SQUARE
}

function monoWidth(character: string): number {
  if (/[ -~\u00a0-\u00ff\u2010-\u202f\u2212]/u.test(character)) return MONO
  if (/[\p{M}\p{Cf}]/u.test(character)) return 0
  return PICTOGRAPH
}
