// `guardband ask`: answers a question, as text or JSON; makes the question when it is asked by names.
import type { Lab } from '@guardband/lab'
import { SpokenError, type AnswerScope, type QuestionRow } from '@guardband/model'
import { questionKinds } from '@guardband/questions'
import { askByNames } from './ask-by-names.ts'
import { findQuestion } from './find-question.ts'
import { plainJson } from './plain-json.ts'
import type { Terminal } from './terminal.ts'
import { withWorkspace } from './workspace.ts'

export interface AskOptions {
  readonly question: string | undefined
  readonly in?: string
  readonly faster?: string
  readonly than?: string
  readonly suite?: string
  readonly smallest?: number
  readonly scope?: 'these' | 'like'
  readonly form: 'text' | 'json'
}

export async function ask(terminal: Terminal, options: AskOptions): Promise<void> {
  await withWorkspace(terminal, options.in, async (lab) => {
    const id = questionId(lab, terminal, options)
    const answer = await lab.answer(id)
    if (options.form === 'json') return terminal.out(plainJson(answer))
    const scope = options.scope === undefined ? answer.scope : SCOPES[options.scope]
    terminal.out(questionKinds[answer.kind].text(answer, { scope, width: terminal.width }).trimEnd())
  })
}

const SCOPES: Readonly<Record<'these' | 'like', AnswerScope>> = { these: 'these samples', like: 'samples like these' }

function questionId(lab: Lab, terminal: Terminal, options: AskOptions): string {
  const { question, faster, than } = options
  if (question !== undefined) {
    if (faster !== undefined || than !== undefined) throw new SpokenError({ code: 'ask-both', message: 'give a question or --faster and --than, not both.' })
    requireNothingFixed(options)
    return findQuestion(lab.questions(), question).question.id
  }
  if (faster !== undefined && than !== undefined) return askByNames(lab, terminal, { faster, than, suite: options.suite, smallest: options.smallest })
  if (faster !== undefined || than !== undefined) throw new SpokenError({ code: 'ask-half', message: 'a comparison needs both sides.', mend: 'npx guardband ask --faster "B" --than "A".' })
  requireNothingFixed(options)
  return onlyQuestion(lab.questions()).question.id
}

/** Suite and smallest gain of a question were fixed when it was asked. */
function requireNothingFixed({ suite, smallest }: AskOptions): void {
  const given = [...(suite === undefined ? [] : ['--suite']), ...(smallest === undefined ? [] : ['--smallest'])]
  if (given.length === 0) return
  const mend = `Leave ${given.length === 1 ? 'it' : 'them'} out, or ask a new one: npx guardband ask --faster "B" --than "A" ${given.map((option) => `${option} ...`).join(' ')}.`
  throw new SpokenError({ code: 'ask-fixed', message: `a question keeps the suite and the smallest gain that it was asked with; got ${given.join(' and ')}.`, mend })
}

/** Without a name, the one there is. */
function onlyQuestion(rows: readonly QuestionRow[]): QuestionRow {
  const [row, second] = rows
  if (row !== undefined && second === undefined) return row
  const mend = row === undefined ? 'Ask one: npx guardband ask --faster "B" --than "A".' : `Name one of them, 1 to ${rows.length}: "npx guardband questions" lists them.`
  throw new SpokenError({ code: 'ask-which', message: `the workspace has ${rows.length === 0 ? 'no' : rows.length} questions.`, mend })
}
