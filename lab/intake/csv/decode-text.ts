// Bytes of a text file as UTF-8, or a sentence that says what they look like instead.
import { SpokenError } from '@guardband/model'

export const LARGEST_FILE = 50 * 1024 * 1024

/** The text without its byte order mark. Throws `encoding` for other encodings and `too-large` over 50 MB. */
export function decodeText(bytes: Uint8Array, file: string): string {
  requireSize(bytes.length, file)
  if (startsWith(bytes, [0xff, 0xfe]) || startsWith(bytes, [0xfe, 0xff])) throw notUtf8(file, 'the file is in UTF-16.')
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
  if (fault !== null) throw notUtf8(file, `line ${text.slice(0, fault.index).split('\n').length} holds characters that were not UTF-8.`)
  return text.startsWith('\uFEFF') ? text.slice(1) : text
}

function requireSize(bytes: number, file: string): void {
  if (bytes <= LARGEST_FILE) return
  throw new SpokenError({ code: 'too-large', place: file, message: `the file has ${Math.ceil(bytes / 1024 / 1024)} MB; at most 50 MB are taken.`, mend: 'Split it into several files.' })
}

function notUtf8(file: string, message: string): SpokenError {
  return new SpokenError({ code: 'encoding', place: file, message, mend: 'Save it as UTF-8 (in a spreadsheet: "CSV UTF-8").' })
}

function startsWith(bytes: Uint8Array, start: readonly number[]): boolean {
  return start.every((byte, index) => bytes[index] === byte)
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
