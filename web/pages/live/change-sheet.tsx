// The numbered sheet: what must differ from what is in force now, a line each.
import type { ReactNode } from 'react'
import type { ChangeLine } from '@guardband/model/api'
import { Ledger } from '../../pieces/ledger.tsx'

export function ChangeSheet({ lines, label }: { readonly lines: readonly ChangeLine[]; readonly label: string }): ReactNode {
  return (
    <Ledger
      label={label}
      columns={[
        { header: 'no.', render: ({ number }) => <span className="figure">{number}</span> },
        { header: 'setting', render: ({ key }) => key },
        { header: 'where', render: ({ where }) => where, empty: ({ where }) => where === '' },
        { header: 'now', render: ({ from }) => (from === null ? <span className="soft">not known</span> : <span className="figure">{from}</span>) },
        { header: 'set it to', render: ({ to }) => <b className="figure">{to}</b> },
      ]}
      rows={lines}
      keyOf={({ number }) => String(number)}
    />
  )
}
