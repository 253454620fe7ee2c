// Names come from anywhere: characters that would hide, reorder or break what stands around them are shown as U+FFFD.

/** Text safe to set in a line: control characters, bidirectional controls, invisible format characters and lone surrogates become visible. */
export function visibleText(text: string): string {
  return text.toWellFormed().replace(SPACE_LIKE, ' ').replace(HIDDEN, '\ufffd')
}

/** Line breaks and tabs only part words here. */
const SPACE_LIKE = /[\t\n\r\u0085\u2028\u2029]+/g
/** Cc, the bidirectional controls of Unicode UAX 9, zero-width marks that hide differences, and the non-characters that XML 1.0 forbids. Joiners (U+200C, U+200D) stay: scripts need them. */
const HIDDEN = /[\p{Cc}\u061c\u200b\u200e\u200f\u202a-\u202e\u2060\u2066-\u2069\ufeff\ufffe\uffff]/gu
