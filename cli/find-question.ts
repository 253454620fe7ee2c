// Finds the question that a person means by its number in the list, its id, or its title.
import { SpokenError, type QuestionRow } from '@guardband/model'

export function findQuestion(rows: readonly QuestionRow[], named: string): QuestionRow {
  const number = /^\d{1,6}$/.test(named) ? Number(named) : undefined
  const found = number === undefined ? rows.filter((row) => row.question.id === named || row.title.toLowerCase() === named.toLowerCase()) : rows.slice(number - 1, number)
  const [row, second] = number === 0 ? [] : found
  if (row !== undefined && second === undefined) return row
  if (second !== undefined) throw new SpokenError({ code: 'question-ambiguous', message: `${found.length} questions are called "${named}".`, mend: 'Give the number that "npx guardband questions" shows.' })
  const mend = rows.length === 0 ? 'The workspace has none yet: npx guardband ask --faster "B" --than "A".' : `"npx guardband questions" lists them, 1 to ${rows.length}.`
  throw new SpokenError({ code: 'question-unknown', message: `there is no question "${named}".`, mend })
}
