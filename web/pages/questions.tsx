// Questions: each with its verdict, its sentence, and what would settle it.
import type { ReactNode } from 'react'
import { Link } from '@tanstack/react-router'
import type { QuestionRow } from '@guardband/model/api'
import { counted } from '@guardband/model/figures'
import { useHub } from '../hub/queries.ts'
import { Page } from '../shell/page.tsx'
import { Empty, Loaded } from '../shell/states.tsx'
import { cheapestFirst, isOpen } from './open-questions.ts'
import { QuestionList } from './question-list.tsx'

export function QuestionsPage(): ReactNode {
  const questions = useHub('questions')
  const rows = questions.data?.rows
  return (
    <Page
      crumbs={[{ text: 'Questions' }]}
      name="Questions"
      headline={rows === undefined ? 'Questions' : rows.length === 0 ? 'Nothing has been asked yet.' : sumUp(rows)}
      meta={rows?.length === 0 ? undefined : <AskLink />}
    >
      <Loaded query={questions} what="the questions">
        {(reply) => (reply.rows.length === 0 ? <NoQuestions /> : <Both rows={reply.rows} />)}
      </Loaded>
    </Page>
  )
}

function sumUp(rows: readonly QuestionRow[]): string {
  if (rows.some((row) => row.state === 'none')) return `${counted(rows.length, 'question')}.`
  const open = rows.filter(isOpen).length
  const state = open === 0 ? 'all settled' : open === rows.length ? (open === 1 ? 'still open' : 'all still open') : `${open} still open`
  return `${counted(rows.length, 'question')}, ${state}.`
}

function Both({ rows }: { readonly rows: readonly QuestionRow[] }): ReactNode {
  const groups = [
    { title: 'Open', rows: cheapestFirst(rows.filter(isOpen)) },
    { title: 'Settled', rows: rows.filter((row) => !isOpen(row)) },
  ]
  return groups
    .filter((group) => group.rows.length > 0)
    .map((group) => (
      <section className="sheet" key={group.title}>
        <h2>{group.title}</h2>
        <QuestionList rows={group.rows} label={`${group.title} questions`} />
      </section>
    ))
}

function AskLink(): ReactNode {
  return (
    <Link className="button button-main" to="/questions/ask">
      Ask a question
    </Link>
  )
}

function NoQuestions(): ReactNode {
  return (
    <Empty>
      <p>A question says what is compared with what, over which workloads, and the smallest gain that would matter. It keeps its answer up to date as runs come in.</p>
      <p>
        <AskLink />
      </p>
    </Empty>
  )
}
