// What lists of samples show of each.
import type { ReactNode } from 'react'
import { Link } from '@tanstack/react-router'
import type { Bin, Sample } from '@guardband/model/records/parts'
import type { LedgerColumn } from '../../pieces/ledger.tsx'

export interface SampleLine {
  readonly sample: Sample
  readonly starts: number
  readonly runs: number
}

/** With `binOf`, a column for the bin; with `seatOf`, one for the rig that it sits in. */
export function sampleColumns({ binOf, seatOf }: { readonly binOf?: ReadonlyMap<string, Bin> | null; readonly seatOf?: (id: string) => string | null }): readonly LedgerColumn<SampleLine>[] {
  return [
    { header: 'sample', render: ({ sample }) => <SampleName sample={sample} /> },
    { header: 'serial', render: ({ sample }) => <span className="figure breaks">{sample.serial ?? ''}</span>, empty: ({ sample }) => sample.serial === undefined },
    { header: 'picked', render: ({ sample }) => sample.picked, empty: ({ sample }) => sample.picked === 'unknown' },
    { header: 'from', render: ({ sample }) => sample.origin, empty: ({ sample }) => sample.origin === 'unknown' },
    { header: 'batch', render: ({ sample }) => sample.batch ?? '', empty: ({ sample }) => sample.batch === undefined },
    { header: 'status', render: ({ sample }) => <StatusWord status={sample.status} /> },
    ...(seatOf === undefined ? [] : [{ header: 'sits in', render: ({ sample }: SampleLine) => seatOf(sample.id) ?? '', empty: ({ sample }: SampleLine) => seatOf(sample.id) === null }]),
    ...(binOf == null ? [] : [{ header: 'bin', render: ({ sample }: SampleLine) => (sample.bin === undefined ? '' : (binOf.get(sample.bin.binId)?.name ?? '')), empty: ({ sample }: SampleLine) => sample.bin === undefined }]),
    { header: 'starts', align: 'number', render: (line) => line.starts },
    { header: 'runs', align: 'number', render: (line) => line.runs },
  ]
}

function SampleName({ sample }: { readonly sample: Sample }): ReactNode {
  return (
    <Link to="/samples/$id" params={{ id: sample.id }}>
      {sample.label}
    </Link>
  )
}

/** Locked ones stand out by weight and a mark, not by colour. */
export function StatusWord({ status }: { readonly status: Sample['status'] }): ReactNode {
  if (status === 'bench') return <>bench</>
  if (status === 'for sale') return <>for sale</>
  return (
    <strong className="locked">
      <span aria-hidden="true">! </span>
      {status}
    </strong>
  )
}
