// The name that a file had elsewhere, made harmless: it is shown and offered for downloads, never used as a path here.

/** The last part of a path, without control and invisible characters, at most 200 characters with its ending kept. */
export function harmlessName(name: string): string {
  const last = name.toWellFormed().split(/[/\\]/).at(-1) ?? ''
  const plain = last.replace(UNSEEN, '').replace(/\s+/gu, ' ').replace(/^[. ]+|[. ]+$/g, '')
  if (plain === '') return 'file'
  const letters = Array.from(plain)
  if (plain.length <= LONGEST) return plain
  const ending = /\.[A-Za-z0-9]{1,10}$/.exec(plain)?.[0] ?? ''
  let kept = ''
  // Whole characters only: half of a pair would be no text.
  for (const letter of letters) {
    if (kept.length + letter.length + ending.length > LONGEST) break
    kept += letter
  }
  return kept.trimEnd() + ending
}

/** As the record of a piece of evidence allows. */
const LONGEST = 200
/** Control and format characters (bidirectional marks among them), and those that some systems forbid in names. */
const UNSEEN = /[\p{Cc}\p{Cf}\ufffd\ufffe\uffff<>:"|?*]/gu
