// Bytes of a table as text: UTF-8, UTF-16 with or without a mark, else windows-1252, which is a guess and said to be one.
import { SpokenError, type Encoding } from '@guardband/model'
import { decodeText, requireSize, requireTextKind } from './decode-text.ts'

export interface DecodedTable {
  /** Without a byte order mark; every line ends in one line feed. */
  readonly text: string
  readonly encoding: Encoding
  readonly how: 'sure' | 'guessed' | 'said'
}

/** Throws `not-text`, `encoding` and `too-large` with a sentence. */
export function decodeTable(bytes: Uint8Array, file: string, said?: Encoding): DecodedTable {
  requireSize(bytes.length, file)
  requireTextKind(bytes, file)
  const marked = markedEncoding(bytes)
  const encoding = said ?? marked ?? unmarkedUtf16(bytes) ?? (isUtf8(bytes) ? 'utf-8' : 'windows-1252')
  // Says with its line what stands in the way.
  if (encoding === 'utf-8') return { text: evenLines(decodeText(bytes, file)), encoding, how: said === undefined ? 'sure' : 'said' }
  const text = decode(bytes, encoding, file)
  const fault = CONTROL.exec(text)
  if (fault !== null) {
    const line = text.slice(0, fault.index).split(/\r\n|\n|\r/).length
    throw new SpokenError({ code: 'encoding', place: file, message: `line ${line} holds bytes that are no text in ${encoding}.`, mend: 'Choose another encoding, or save the file as UTF-8.' })
  }
  return { text: evenLines(text), encoding, how: said !== undefined ? 'said' : marked === encoding ? 'sure' : 'guessed' }
}

/** Of text that was pasted or decoded elsewhere. */
export function evenLines(text: string): string {
  return text.includes('\r') ? text.replaceAll(/\r\n?/g, '\n') : text
}

/** C1 controls: bytes that windows-1252 leaves undefined decode to these, as do wrong guesses. C0 ones but tab and line ends are no text either. */
// oxlint-disable-next-line no-control-regex -- control characters are what it looks for
const CONTROL = /[\u0000-\u0008\u000B\u000C\u000E-\u001F\u0080-\u009F\uFFFD]/

function decode(bytes: Uint8Array, encoding: Encoding, file: string): string {
  try {
    return new TextDecoder(encoding, { fatal: true }).decode(bytes)
  } catch {
    throw new SpokenError({ code: 'encoding', place: file, message: `the file is not in ${encoding}.`, mend: 'Choose another encoding, or save the file as UTF-8.' })
  }
}

function markedEncoding(bytes: Uint8Array): Encoding | undefined {
  if (bytes[0] === 0xff && bytes[1] === 0xfe) return 'utf-16le'
  if (bytes[0] === 0xfe && bytes[1] === 0xff) return 'utf-16be'
  return undefined
}

/** Tables are mostly ASCII, whose high bytes are zero: all in odd places, or all in even ones. */
function unmarkedUtf16(bytes: Uint8Array): Encoding | undefined {
  if (bytes.length < 4 || bytes.length % 2 === 1) return undefined
  const zeros = [0, 0]
  const looked = Math.min(bytes.length, LOOKED_AT)
  for (let index = 0; index < looked; index++) if (bytes[index] === 0) zeros[index % 2] += 1
  const most = (looked / 2) * MOSTLY
  if (zeros[1] > most && zeros[0] === 0) return 'utf-16le'
  if (zeros[0] > most && zeros[1] === 0) return 'utf-16be'
  return undefined
}

const LOOKED_AT = 4096
/** Some letters of a western table lie above U+00FF; most don't. */
const MOSTLY = 0.7

function isUtf8(bytes: Uint8Array): boolean {
  try {
    new TextDecoder('utf-8', { fatal: true }).decode(bytes)
    return true
  } catch {
    return false
  }
}
