// Several rows of fields in one form: a measure, a weight, a requirement each; rows are added and taken out.
import type { ReactNode } from 'react'

export function RowFields<Row extends { readonly key: string }>(props: {
  readonly legend: string
  readonly rows: readonly Row[]
  /** What one row is, for its buttons: "measure". */
  readonly what: string
  readonly make: () => Row
  readonly onRows: (rows: readonly Row[]) => void
  readonly render: (row: Row, put: (changed: Partial<Row>) => void) => ReactNode
}): ReactNode {
  const { rows, onRows } = props
  return (
    <fieldset className="row-fields">
      <legend>{props.legend}</legend>
      <ol>
        {rows.map((row, place) => (
          <li key={row.key}>
            <div className="row-field-set">{props.render(row, (changed) => onRows(rows.map((other) => (other.key === row.key ? { ...other, ...changed } : other))))}</div>
            {rows.length < 2 ? null : (
              <button type="button" className="button-quiet" onClick={() => onRows(rows.filter((other) => other.key !== row.key))} aria-label={`Take out ${props.what} ${place + 1}`}>
                Take out
              </button>
            )}
          </li>
        ))}
      </ol>
      <button type="button" className="button" onClick={() => onRows([...rows, props.make()])}>
        Add a {props.what}
      </button>
    </fieldset>
  )
}
