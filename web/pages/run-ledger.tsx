// Runs as a ledger: which run, under what, how it ended, what it measured.
import type { ReactNode } from 'react'
import type { RunRow } from '@guardband/model/api'
import { readingText } from '../pieces/amounts.ts'
import { Ledger, type LedgerColumn } from '../pieces/ledger.tsx'
import { OutcomeMark } from '../pieces/outcome-mark.tsx'
import { When } from '../pieces/when.tsx'

export function RunLedger({ rows, onKeep }: { readonly rows: readonly RunRow[]; readonly onKeep?: (row: RunRow) => void }): ReactNode {
  const columns: readonly LedgerColumn<RunRow>[] = [
    { header: 'workload', render: (row) => row.workload },
    { header: 'sample', render: (row) => row.sample },
    { header: 'tune in force', render: (row) => <TuneInForce row={row} /> },
    {
      header: 'outcome',
      render: (row) => (
        <>
          <OutcomeMark outcome={row.outcome} />
          {row.place === null ? null : <small>{row.place}</small>}
          {row.setAside === null ? null : <small className="set-aside">set aside: {row.setAside}</small>}
        </>
      ),
    },
    {
      header: 'measured',
      align: 'number',
      empty: (row) => row.measures.length === 0,
      render: (row) =>
        row.measures.map((measure) => (
          <span key={measure.name} className="reading" title={measure.name}>
            {readingText(measure.value, measure.unit)}
          </span>
        )),
    },
    {
      header: 'start',
      render: (row) => (
        <>
          {row.startLabel} <span className="soft">on {row.rig}</span>
          {row.at === null ? null : (
            <small>
              <When at={row.at} />
            </small>
          )}
        </>
      ),
    },
    ...(onKeep === undefined ? [] : [{ header: 'in answers', render: (row: RunRow) => <KeepButton row={row} onKeep={onKeep} /> }]),
  ]
  return <Ledger label="Runs" columns={columns} rows={rows} keyOf={(row) => row.id} quiet={(row) => row.setAside !== null} />
}

function TuneInForce({ row }: { readonly row: RunRow }): ReactNode {
  if (row.tune === null) {
    return (
      <>
        <strong>none that is known</strong>
        {row.asked === null ? null : <small>asked: {row.asked}</small>}
      </>
    )
  }
  return (
    <>
      {row.tune}
      <small>
        {row.asked !== null && row.asked !== row.tune ? `asked: ${row.asked}; ` : ''}
        {row.known}
      </small>
    </>
  )
}

function KeepButton({ row, onKeep }: { readonly row: RunRow; readonly onKeep: (row: RunRow) => void }): ReactNode {
  const words = row.setAside === null ? 'Set aside' : 'Bring back'
  return (
    <button type="button" className="button-quiet" onClick={() => onKeep(row)} aria-label={`${words}: ${row.workload}, ${row.sample}, ${row.startLabel}`}>
      {words}
    </button>
  )
}
