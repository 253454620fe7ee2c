// Fields that differ, one a line: what stood there, then what stands there now.
import type { ReactNode } from 'react'
import type { FieldDifference } from '@guardband/model/api'
import { counted } from '@guardband/model/figures'

export function Differences({ differences, more }: { readonly differences: readonly FieldDifference[]; readonly more: number }): ReactNode {
  if (differences.length === 0) return null
  return (
    <ul className="differences">
      {differences.map(({ field, before, after }) => (
        <li key={field}>
          <span className="differences-field">{field}:</span>{' '}
          {before === null ? (
            <>
              now <ins>{after}</ins>
            </>
          ) : after === null ? (
            <>
              <del>{before}</del> taken away
            </>
          ) : (
            <>
              <del>{before}</del> <span aria-hidden="true">&rarr;</span>
              <span className="unseen"> then </span> <ins>{after}</ins>
            </>
          )}
        </li>
      ))}
      {more === 0 ? null : <li className="soft">and {counted(more, 'more field')}</li>}
    </ul>
  )
}
