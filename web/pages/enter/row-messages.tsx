// What there is to say about cells of one workload, right beneath them: a question, what is wrong, or why the hub refused it.
import type { ReactNode } from 'react'
import type { Desk } from './desk.ts'

export interface Message {
  readonly kind: 'question' | 'problem' | 'refused'
  /** Of the repeat, from 0. */
  readonly column: number
  readonly sentence: string
  /** Of the entry that was refused. */
  readonly request?: string
}

export function RowMessages({ id, columns, messages, desk }: { readonly id: string; readonly columns: number; readonly messages: readonly Message[]; readonly desk: Desk }): ReactNode {
  return (
    <tr className="cell-messages">
      <td colSpan={columns} id={id}>
        <div role="status">
        {messages.map(({ kind, column, sentence, request }) => (
          <p key={`${kind}-${column}`} className={`cell-${kind}`}>
            <b>Repeat {column + 1}:</b> {sentence} {request === undefined ? null : <RefusedActs request={request} desk={desk} />}
          </p>
        ))}
        </div>
      </td>
    </tr>
  )
}

export function RefusedActs({ request, desk }: { readonly request: string; readonly desk: Desk }): ReactNode {
  return (
    <>
      <button type="button" className="button-quiet" onClick={() => desk.retry(request)}>
        Send it again
      </button>{' '}
      <button type="button" className="button-quiet" onClick={() => desk.drop(request)}>
        Give it up
      </button>
    </>
  )
}
