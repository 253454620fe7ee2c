// The numbered sheet: what must differ from what is in force now, a line each.
import type { ReactNode } from 'react'
import type { ChangeLine } from '@guardband/model/api/live'

export function ChangeSheet({ lines, label }: { readonly lines: readonly ChangeLine[]; readonly label: string }): ReactNode {
  return (
    <ol className="change-sheet" aria-label={label}>
      {lines.map(({ number, key, where, from, to }) => (
        <li key={number} value={number}>
          <span className="change-number figure">{number}</span>
          <span className="change-key">
            {key}{' '}
            {where === '' ? null : <small>{where}</small>}
          </span>
          <span className="change-from">
            <span className="unseen">from </span>
            {from === null ? <span className="soft">not known</span> : <span className="figure">{from}</span>}
          </span>
          <span className="change-to">
            <span aria-hidden="true">→ </span>
            <span className="unseen">to </span>
            <b className="figure">{to}</b>
          </span>
        </li>
      ))}
    </ol>
  )
}
