// The table of an answer: the picture in figures and words. Where there is little room the words move under the name.
import type { ReactNode } from 'react'
import type { Answer, AnswerScope } from '@guardband/model/answer'
import { toneMark } from '@guardband/questions/marks'
import { Picture } from '../pieces/picture.tsx'
import { ScrollFrame } from '../pieces/scroll-frame.tsx'
import { useNarrow } from '../pieces/use-narrow.ts'
import type { KindView } from './kinds.ts'

export function AnswerTableView({ view, answer, scope }: { readonly view: KindView; readonly answer: Answer; readonly scope: AnswerScope }): ReactNode {
  const narrow = useNarrow()
  const { columns, rows } = view.table(answer, scope)
  if (rows.length === 0) return null
  const last = columns.length - 1
  const wordsBelow = narrow && columns[last]?.align === 'text'
  const shown = wordsBelow ? columns.slice(0, last) : columns
  return (
    <section>
      <h2>By workload</h2>
      <ScrollFrame label="By workload">
      <table className="ledger answer-table">
        <caption className="unseen">Figures of the picture, {scope}</caption>
        <thead>
          <tr>
            {shown.map((column) => (
              <th key={column.key} scope="col" className={column.align === 'number' ? 'n' : undefined}>
                {column.header}
              </th>
            ))}
          </tr>
        </thead>
        <tbody>
          {rows.map((row) =>
            row.role === 'group' ? (
              <tr key={`heading:${row.cells[0] ?? ''}`} className="group-line">
                <th scope="colgroup" colSpan={shown.length}>
                  {row.cells[0]}
                </th>
              </tr>
            ) : (
              <tr key={row.estimateKey ?? row.cells.join('|')} className={row.role === 'total' ? 'total-line' : undefined}>
                {shown.map((column, index) => {
                  const words = <Words view={view} answer={answer} scope={scope} estimateKey={row.estimateKey} text={row.cells[last] ?? ''} tone={row.tone} />
                  if (index === 0) {
                    return (
                      <th key={column.key} scope="row">
                        {row.cells[0]}
                        {wordsBelow ? <small>{words}</small> : null}
                      </th>
                    )
                  }
                  return (
                    <td key={column.key} className={column.align === 'number' ? 'n' : undefined}>
                      {index === last && column.align === 'text' ? words : row.cells[index]}
                    </td>
                  )
                })}
              </tr>
            ),
          )}
        </tbody>
      </table>
      </ScrollFrame>
    </section>
  )
}

interface WordsProps {
  readonly view: KindView
  readonly answer: Answer
  readonly scope: AnswerScope
  readonly estimateKey: string | undefined
  readonly text: string
  readonly tone: 'up' | 'down' | 'same' | 'open' | 'stop' | undefined
}

/** The same shape as in the picture, before the words. */
function Words({ view, answer, scope, estimateKey, text, tone }: WordsProps): ReactNode {
  const estimate = answer.estimates.find((candidate) => candidate.key === estimateKey && candidate.scope === scope)
  return (
    <span className="words">
      {tone === undefined ? null : <Picture root={toneMark(tone, estimate === undefined ? 'hollow' : view.bodyOf(estimate))} />} <span>{tone === undefined ? text : wordsOnly(text)}</span>
    </span>
  )
}

/** The table's text begins with a letter-sized shape for terminals; here the drawn one stands in its place. */
function wordsOnly(text: string): string {
  return text.replace(/^\p{So}\s+/u, '')
}
