// What is wrong with a file, as sentences that name file, line, column and the mend.
import type { IntakeProblem } from '@guardband/model'

export interface Problems {
  readonly add: (at: { readonly line: number | null; readonly column?: string }, message: string, mend: string) => void
  readonly all: () => readonly IntakeProblem[]
}

export function createProblems(file: string): Problems {
  const list: IntakeProblem[] = []
  return {
    add: ({ line, column }, message, mend) => {
      const place = [file, ...(line === null ? [] : [`line ${line}`]), ...(column === undefined ? [] : [`column ${column}`])].join(', ')
      list.push({ line, column: column ?? null, sentence: `${place}: ${message} ${mend}` })
    },
    all: () => list,
  }
}
