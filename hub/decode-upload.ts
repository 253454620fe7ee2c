// The bytes of a text file as text: UTF-8, or UTF-16 with its mark; anything else is refused with the mend, never guessed.
import { SpokenError } from '@guardband/model'

/** `file` names it in the sentence. */
export function decodeUpload(bytes: Uint8Array, file: string): string {
  const encoding = bytes[0] === 0xff && bytes[1] === 0xfe ? 'utf-16le' : bytes[0] === 0xfe && bytes[1] === 0xff ? 'utf-16be' : 'utf-8'
  try {
    return new TextDecoder(encoding, { fatal: true }).decode(bytes)
  } catch {
    throw new SpokenError({ code: 'file-encoding', place: file, message: `the file must be UTF-8 text; line ${badLine(bytes)} is not.`, mend: 'Save it as "CSV UTF-8" and take that in.' })
  }
}

/** The first line that is not UTF-8. Lines end at the same byte in every encoding that spreadsheets save besides UTF-16. */
function badLine(bytes: Uint8Array): number {
  let line = 1
  let from = 0
  for (;;) {
    const end = bytes.indexOf(NEW_LINE, from)
    try {
      new TextDecoder('utf-8', { fatal: true }).decode(bytes.subarray(from, end === -1 ? bytes.length : end))
    } catch {
      return line
    }
    if (end === -1) return line
    from = end + 1
    line += 1
  }
}

const NEW_LINE = 0x0a
