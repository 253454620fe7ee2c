// Questions as a list of slips: verdict, sentence, what would settle it and for how many minutes.
import type { ReactNode } from 'react'
import { Link } from '@tanstack/react-router'
import type { QuestionRow } from '@guardband/model/api'
import { keepTogether } from '@guardband/questions/visible-text'
import { useUpToDate } from '../hub/queries.ts'
import { HeadlinePieces } from '../pieces/headline.tsx'
import { Unbroken } from '../pieces/unbroken.tsx'
import { VerdictMark } from '../pieces/verdict-mark.tsx'

export function QuestionList({ rows, label }: { readonly rows: readonly QuestionRow[]; readonly label: string }): ReactNode {
  useUpToDate(rows.filter((row) => row.state !== 'ready').map((row) => row.question.id))
  return (
    <ul className="slips" aria-label={label}>
      {rows.map((row) => (
        <li key={row.question.id}>
          <p className="slip-title">
            <span>
              <Unbroken text={keepTogether(row.title)} />
            </span>
            {stateText(row) === null ? null : <span className="slip-state">{stateText(row)}</span>}
          </p>
          <p className="slip-sentence">
            {row.verdict === null ? null : <VerdictMark verdict={row.verdict} />}
            <Link to="/questions/$id" params={{ id: row.question.id }}>
              {row.headline === null ? 'See the answer' : <HeadlinePieces headline={row.headline} tone={row.verdict?.tone} />}
            </Link>
          </p>
          {row.settle === null ? null : (
            <p className="slip-settle">
              <Unbroken text={keepTogether(row.settle.sentence)} />
            </p>
          )}
        </li>
      ))}
    </ul>
  )
}

function stateText(row: QuestionRow): string | null {
  if (row.state === 'none') return 'being worked out'
  return row.state === 'stale' ? 'data have changed since; the new answer is being worked out' : null
}
