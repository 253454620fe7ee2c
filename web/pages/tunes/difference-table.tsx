// Rows of a difference: both sides, the signed change in the unit, and in percent; tables and curves place by place below.
import type { ReactNode } from 'react'
import type { TuneDifference } from '@guardband/model/api/tunes'
import { Ledger } from '../../pieces/ledger.tsx'

type Row = TuneDifference['difference']['groups'][number]['rows'][number]

interface Line {
  readonly key: string
  readonly name: ReactNode
  readonly a: string
  readonly b: string
  readonly change: string
  readonly percent: string
  readonly known: string | null
}

export function DifferenceTable({ label, nameA, nameB, rows, all = rows }: { readonly label: string; readonly nameA: string; readonly nameB: string; readonly rows: readonly Row[]; /** Those of the tables around it too: they share its columns. */ readonly all?: readonly Row[] }): ReactNode {
  const lines = rows.flatMap(linesOf)
  const linesAround = all.flatMap(linesOf)
  const changes = linesAround.some(({ change }) => change !== '')
  const percents = linesAround.some(({ percent }) => percent !== '')
  return (
    <Ledger
      label={label}
      even
      columns={[
        { header: 'setting', render: ({ name }: Line) => name },
        { header: nameA === nameB ? `${nameA} (A)` : nameA, align: 'number', render: ({ a }) => a },
        { header: nameA === nameB ? `${nameB} (B)` : nameB, align: 'number', render: ({ b, known }) => <>{b}{known === null || b === '' ? null : <small>{known}</small>}</> },
        ...(changes ? [{ header: 'change', align: 'number' as const, render: ({ change }: Line) => change, empty: ({ change }: Line) => change === '' }] : []),
        ...(percents ? [{ header: 'in percent', align: 'number' as const, render: ({ percent }: Line) => percent, empty: ({ percent }: Line) => percent === '' }] : []),
      ]}
      rows={lines}
      keyOf={({ key }) => key}
    />
  )
}

function linesOf(row: Row): readonly Line[] {
  const key = `${row.key}|${row.place}`
  const name = (
    <>
      {row.key} {row.place === '' ? null : <span className="soft">{row.place}</span>}
    </>
  )
  if (row.points.length === 0) return [{ key, name, a: absent(row.a), b: absent(row.b), change: row.change, percent: row.percent, known: row.known }]
  return [
    { key, name, a: '', b: '', change: '', percent: '', known: row.known },
    ...row.points.map((point) => ({ key: `${key}|${point.at}`, name: <span className="difference-at">at {point.at}</span>, a: point.a ?? 'nothing', b: point.b ?? 'nothing', change: point.change, percent: point.percent, known: null })),
  ]
}

function absent(value: string | null): string {
  return value ?? 'not asked for'
}
