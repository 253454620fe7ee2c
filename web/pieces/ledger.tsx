// The list of every page: a ruled table where there is room, entries one below the other where there is not.
import type { ReactNode } from 'react'
import { ScrollFrame } from './scroll-frame.tsx'
import { useNarrow } from './use-narrow.ts'

export interface LedgerColumn<Row> {
  readonly header: string
  readonly align?: 'number'
  readonly render: (row: Row) => ReactNode
  /** Takes the whole width of a narrow entry: for sentences. */
  readonly wide?: true
  /** Left out of a narrow entry where the cell has nothing to say, and of a table where none of its cells has. */
  readonly empty?: (row: Row) => boolean
  /** The header is heard, not seen: for a column of buttons that say themselves what they do. */
  readonly unseen?: true
}

export function Ledger<Row>(props: {
  /** What the table lists, for those who hear it. */
  readonly label: string
  readonly columns: readonly LedgerColumn<Row>[]
  readonly rows: readonly Row[]
  readonly keyOf: (row: Row) => string
  readonly quiet?: (row: Row) => boolean
  /** Columns of equal width, so that tables below one another line up. */
  readonly even?: true
}): ReactNode {
  const narrow = useNarrow()
  return narrow ? <Entries {...props} /> : <Table {...props} />
}

type LedgerProps<Row> = Parameters<typeof Ledger<Row>>[0]

function Table<Row>({ label, columns: all, rows, keyOf, quiet, even }: LedgerProps<Row>): ReactNode {
  // Where tables line up, a column stands even with nothing in it.
  const columns = even === true || rows.length === 0 ? all : all.filter(({ empty }) => empty === undefined || !rows.every(empty))
  return (
    <ScrollFrame label={label}>
    <table className={even === true ? 'ledger ledger-even' : 'ledger'}>
      <caption className="unseen">{label}</caption>
      <thead>
        <tr>
          {columns.map((column) => (
            <th key={column.header} scope="col" className={column.align === 'number' ? 'n' : undefined}>
              <Header column={column} />
            </th>
          ))}
        </tr>
      </thead>
      <tbody>
        {rows.map((row) => (
          <tr key={keyOf(row)} className={quiet?.(row) === true ? 'quiet' : undefined}>
            {columns.map((column, index) =>
              index === 0 ? (
                <th key={column.header} scope="row" className={column.align === 'number' ? 'n' : undefined}>
                  {column.render(row)}
                </th>
              ) : (
                <td key={column.header} className={column.align === 'number' ? 'n' : undefined}>
                  {column.render(row)}
                </td>
              ),
            )}
          </tr>
        ))}
      </tbody>
    </table>
    </ScrollFrame>
  )
}

function Header<Row>({ column: { header, unseen } }: { readonly column: LedgerColumn<Row> }): ReactNode {
  return unseen === true ? <span className="unseen">{header}</span> : header
}

function Entries<Row>({ label, columns, rows, keyOf, quiet }: LedgerProps<Row>): ReactNode {
  const [first, ...rest] = columns
  return (
    <ul className="entries" aria-label={label}>
      {rows.map((row) => (
        <li key={keyOf(row)} className={quiet?.(row) === true ? 'quiet' : undefined}>
          <div className="entry-title">{first?.render(row)}</div>
          <dl>
            {rest
              .filter((column) => column.empty?.(row) !== true)
              .map((column) => (
                <div key={column.header} className={column.wide === true ? 'wide' : undefined}>
                  <dt className={column.unseen === true ? 'unseen' : undefined}>{column.header}</dt>
                  <dd className={column.align === 'number' ? 'n' : undefined}>{column.render(row)}</dd>
                </div>
              ))}
          </dl>
        </li>
      ))}
    </ul>
  )
}
