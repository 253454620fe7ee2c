// Parts and their samples: how each was picked, where it came from, how often it ran.
import type { ReactNode } from 'react'
import { Link } from '@tanstack/react-router'
import type { PartRow } from '@guardband/model/api'
import { counted } from '@guardband/model/figures'
import { useHub } from '../hub/queries.ts'
import { amountText } from '../pieces/amounts.ts'
import { Ledger, type LedgerColumn } from '../pieces/ledger.tsx'
import { Day } from '../pieces/when.tsx'
import { MarginNote, Page } from '../shell/page.tsx'
import { Empty, Loaded } from '../shell/states.tsx'

export function PartsPage(): ReactNode {
  const parts = useHub('parts')
  const rows = parts.data?.rows
  return (
    <Page
      crumbs={[{ text: 'Parts' }]}
      name="Parts"
      headline={rows === undefined ? 'Parts' : rows.length === 0 ? 'No parts yet.' : sumUp(rows)}
      margin={
        <MarginNote title="Why it matters how a sample was picked">
          <p>Samples picked at random speak for others of their kind. A sample that somebody chose, or that a press office sent, speaks for itself; answers that rest on such samples say so.</p>
        </MarginNote>
      }
    >
      <Loaded query={parts} what="the parts">
        {(reply) => (reply.rows.length === 0 ? <NoParts /> : reply.rows.map((row) => <PartSection key={row.part.id} row={row} />))}
      </Loaded>
    </Page>
  )
}

function sumUp(rows: readonly PartRow[]): string {
  const samples = rows.flatMap((row) => row.samples)
  const atRandom = samples.filter(({ sample }) => sample.picked === 'at random').length
  const picked = samples.length === 0 ? '' : atRandom === samples.length ? ', all picked at random' : `, ${atRandom === 0 ? 'none' : atRandom} of them picked at random`
  return `${counted(rows.length, 'part')}, ${counted(samples.length, 'sample')}${picked}.`
}

function NoParts(): ReactNode {
  return (
    <Empty>
      <p>Parts and samples come with the runs that name them.</p>
      <p>
        <Link className="button button-main" to="/runs/take">
          Take in a file of runs
        </Link>
      </p>
    </Empty>
  )
}

type SampleRow = PartRow['samples'][number]

const COLUMNS: readonly LedgerColumn<SampleRow>[] = [
  { header: 'sample', render: ({ sample }) => sample.label },
  { header: 'picked', render: ({ sample }) => sample.picked },
  { header: 'from', render: ({ sample }) => sample.origin },
  { header: 'batch', render: ({ sample }) => sample.batch ?? '', empty: ({ sample }) => sample.batch === undefined },
  { header: 'status', render: ({ sample }) => (sample.status === 'wet' || sample.status === 'quarantined' ? <strong>{sample.status}</strong> : sample.status) },
  { header: 'starts', align: 'number', render: (row) => row.starts },
  { header: 'runs', align: 'number', render: (row) => row.runs },
]

function PartSection({ row }: { readonly row: PartRow }): ReactNode {
  const lab = useHub('lab')
  const price = row.part.prices.toSorted((a, b) => b.at.localeCompare(a.at))[0]
  return (
    <section className="sheet">
      <h2 className="with-side">
        {row.part.name} <small>{row.part.slot}</small>
        {price === undefined ? null : (
          <small className="side">
            {amountText(price.amount, lab.data?.lab.currency ?? '')} on <Day at={price.at} />
          </small>
        )}
      </h2>
      {row.part.note === undefined ? null : <p className="soft">{row.part.note}</p>}
      {row.samples.length === 0 ? <p className="soft">No sample of it yet.</p> : <Ledger label={`Samples of ${row.part.name}`} columns={COLUMNS} even rows={row.samples} keyOf={(sample) => sample.sample.id} />}
    </section>
  )
}
