// The known word that somebody most likely meant.

/** The word fewest edits away, when that is at most a third of its letters (and at least one is allowed). */
export function nearest<Word extends string>(text: string, words: readonly Word[]): Word | undefined {
  let best: { readonly word: Word; readonly edits: number } | undefined
  for (const word of words) {
    const edits = text.startsWith(word) || (text.length > 2 && word.startsWith(text)) ? 1 : editDistance(text, word)
    if (edits <= Math.max(1, Math.floor(word.length / 3)) && (best === undefined || edits < best.edits)) best = { word, edits }
  }
  return best?.word
}

/** Insertions, deletions and replacements between two words (Levenshtein 1966), by rows. */
function editDistance(a: string, b: string): number {
  let row = Array.from({ length: b.length + 1 }, (_, index) => index)
  for (let i = 1; i <= a.length; i++) {
    const next = [i]
    for (let j = 1; j <= b.length; j++) next[j] = Math.min(next[j - 1] + 1, row[j] + 1, row[j - 1] + (a[i - 1] === b[j - 1] ? 0 : 1))
    row = next
  }
  return row[b.length]
}
