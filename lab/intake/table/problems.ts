// What is wrong with a file, as sentences that name file, line, column and the mend.
import type { IntakeProblem } from '@guardband/model'

export interface Problems {
  readonly add: (at: { readonly line: number | null; readonly column?: string }, message: string, mend: string) => void
  readonly all: () => readonly IntakeProblem[]
  readonly count: () => number
  /** From now on a column is called by its header in the file. */
  readonly call: (column: string, header: string) => void
}

export function createProblems(file: string): Problems {
  const list: IntakeProblem[] = []
  const headers = new Map<string, string>()
  return {
    add: ({ line, column }, message, mend) => {
      const called = column === undefined ? undefined : (headers.get(column) ?? column)
      const place = [file, ...(line === null ? [] : [`line ${line}`]), ...(called === undefined ? [] : [`column ${called}`])].join(', ')
      list.push({ line, column: called ?? null, sentence: `${place}: ${message} ${mend}` })
    },
    all: () => list,
    count: () => list.length,
    call: (column, header) => void headers.set(column, header),
  }
}
