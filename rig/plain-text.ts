// A plan is a stranger's text until it is approved: what would steer a terminal or hide on it is written out, so that a listing shows what there is.

/** One line of text: every control, format and line-breaking character stands as its number, `\u{1b}`. */
export function plainText(text: string): string {
  return text.replace(UNSEEN, (character) => `\\u{${character.codePointAt(0)?.toString(16) ?? ''}}`)
}

/** A word of a command as it stands among others: quoted where its ends would not show. */
export function plainWord(word: string): string {
  return /^[\w./:=@%+,-]+$/.test(word) ? word : plainText(JSON.stringify(word))
}

/** Controls, format characters (those that reorder text among them), lone surrogates, and the two line breaks beyond the controls. */
const UNSEEN = /[\p{Cc}\p{Cf}\p{Cs}\u2028\u2029]/gu
