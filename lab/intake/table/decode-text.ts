// Bytes of a text file as UTF-8, or a sentence that says what they look like instead.
import { SpokenError } from '@guardband/model'

export const LARGEST_FILE = 50 * 1024 * 1024

/** The text without its byte order mark. Throws `not-text` for files of other kinds, `encoding` for other encodings and `too-large` over 50 MB. */
export function decodeText(bytes: Uint8Array, file: string): string {
  requireSize(bytes.length, file)
  requireTextKind(bytes, file)
  if (startsWith(bytes, [0xff, 0xfe]) || startsWith(bytes, [0xfe, 0xff])) throw notUtf8(file, 'the file is in UTF-16.')
  const nul = bytes.indexOf(0)
  if (nul !== -1) throw holdsNul(file, lineAt(bytes, nul))
  try {
    return decoder.decode(bytes)
  } catch {
    throw notUtf8(file, `line ${lineOfFault(bytes)} holds bytes that are not UTF-8.`)
  }
}

/** The same checks on a text that somebody else has decoded. */
export function requireText(text: string, file: string): string {
  requireSize(Buffer.byteLength(text), file)
  const fault = /[\uFFFD\0]/.exec(text)
  const line = fault === null ? 0 : text.slice(0, fault.index).split('\n').length
  if (fault?.[0] === '\0') throw holdsNul(file, line)
  if (fault !== null) throw notUtf8(file, `line ${line} holds characters that were not UTF-8.`)
  return text.startsWith('\uFEFF') ? text.slice(1) : text
}

/** Throws `not-text` for pictures, archives and the like, with what to do instead. */
export function requireTextKind(bytes: Uint8Array, file: string): void {
  const kind = OTHER_KINDS.find(({ starts }) => starts.some((start) => startsWith(bytes, start)))
  if (kind !== undefined) throw new SpokenError({ code: 'not-text', place: file, message: `this is ${kind.what}, not a text.`, mend: kind.mend })
}

export function requireSize(bytes: number, file: string): void {
  if (bytes <= LARGEST_FILE) return
  throw new SpokenError({ code: 'too-large', place: file, message: `the file has ${Math.ceil(bytes / 1024 / 1024)} MB; at most 50 MB are taken.`, mend: 'Split it into several files.' })
}

function notUtf8(file: string, message: string): SpokenError {
  return new SpokenError({ code: 'encoding', place: file, message, mend: 'Save it as UTF-8 (in a spreadsheet: "CSV UTF-8").' })
}

function holdsNul(file: string, line: number): SpokenError {
  return notUtf8(file, `line ${line} holds a NUL, as UTF-16 files do.`)
}

const TO_CSV = 'Export the table as CSV in UTF-8 and take in that file.'

/** First bytes of what people send by mistake, as the formats' own descriptions give them. */
const OTHER_KINDS: readonly { readonly what: string; readonly mend: string; readonly starts: readonly (readonly number[])[] }[] = [
  // PNG, JPEG, GIF.
  { what: 'a picture', mend: 'Write its figures into a table and export that as CSV.', starts: [[0x89, 0x50, 0x4e, 0x47], [0xff, 0xd8, 0xff], [0x47, 0x49, 0x46, 0x38]] },
  { what: 'a PDF', mend: 'Export the table that it was made from as CSV.', starts: [[0x25, 0x50, 0x44, 0x46, 0x2d]] },
  // Today's spreadsheet files are ZIP archives; older ones begin with D0 CF 11 E0.
  { what: 'a spreadsheet file or another ZIP archive', mend: TO_CSV, starts: [[0x50, 0x4b, 0x03, 0x04], [0x50, 0x4b, 0x05, 0x06]] },
  { what: 'a spreadsheet file of an older kind', mend: TO_CSV, starts: [[0xd0, 0xcf, 0x11, 0xe0]] },
  { what: 'a compressed file', mend: 'Unpack it first.', starts: [[0x1f, 0x8b]] },
]

function startsWith(bytes: Uint8Array, start: readonly number[]): boolean {
  return start.every((byte, index) => bytes[index] === byte)
}

function lineAt(bytes: Uint8Array, index: number): number {
  let line = 1
  for (let feed = bytes.indexOf(0x0a); feed !== -1 && feed < index; feed = bytes.indexOf(0x0a, feed + 1)) line += 1
  return line
}

/** The first line that doesn't decode by itself; a line feed never stands inside a character of UTF-8. */
function lineOfFault(bytes: Uint8Array): number {
  let line = 1
  for (let from = 0; from < bytes.length; line++) {
    const feed = bytes.indexOf(0x0a, from)
    const to = feed === -1 ? bytes.length : feed
    try {
      decoder.decode(bytes.subarray(from, to))
    } catch {
      return line
    }
    from = to + 1
  }
  return line
}

const decoder = new TextDecoder('utf-8', { fatal: true })
