// Names typed one below the other, as a list, and a list as such lines.
export function typedLines(text: string): string[] {
  return [...new Set(text.split(/\r?\n/).map((line) => line.trim()).filter((line) => line !== ''))]
}

export function linesOf(names: readonly string[]): string {
  return names.join('\n')
}
