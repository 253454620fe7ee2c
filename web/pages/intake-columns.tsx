// Which columns a file of runs has, as a note in the margin.
import type { ReactNode } from 'react'
import { MarginNote } from '../shell/page.tsx'
import { INTAKE_COLUMNS, INTAKE_EXAMPLE } from './intake-help.ts'

export function IntakeColumns(): ReactNode {
  return (
    <>
      <MarginNote title="Columns">
        <p>One line a run, headers in the first. In bold what must be there:</p>
        <dl className="column-help">
          {INTAKE_COLUMNS.map((column) => (
            <div key={column.name}>
              <dt className={column.needed === 'yes' ? 'needed' : undefined}>{column.name}</dt>
              <dd>{column.what}</dd>
            </div>
          ))}
        </dl>
      </MarginNote>
      <MarginNote title="For instance">
        <pre className="wraps">
          <code>{INTAKE_EXAMPLE}</code>
        </pre>
      </MarginNote>
    </>
  )
}
