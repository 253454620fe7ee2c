// Tunes as a tree of what stands on what, with what each changes in words; two are chosen to be compared.
import { useDeferredValue, useMemo, useState, type ReactNode } from 'react'
import { Link, useNavigate, useSearch } from '@tanstack/react-router'
import type { TuneListRow } from '@guardband/model/api/tunes'
import { counted } from '@guardband/model/figures'
import { useHub } from '../../hub/queries.ts'
import { Ledger } from '../../pieces/ledger.tsx'
import { MarginNote, Page } from '../../shell/page.tsx'
import { Empty, Loaded } from '../../shell/states.tsx'
import { treeOf } from './tree.ts'

export function TunesPage(): ReactNode {
  const list = useHub('tuneList')
  const rows = list.data?.rows
  return (
    <Page
      crumbs={[{ text: 'Tunes' }]}
      name="Tunes"
      headline={rows === undefined ? 'Tunes' : rows.length === 0 ? 'No tunes yet.' : `${counted(rows.length, 'tune')}, ${counted(rows.filter(({ runs }) => runs > 0).length, 'of them', 'of them')} with runs.`}
      meta={
        <>
          <Link className="button button-main" to="/tunes/new">
            Enter a tune
          </Link>
          <Link className="button" to="/tunes/dump">
            From a settings dump
          </Link>
          <Link to="/tunes/settings">Settings that the lab knows</Link>
        </>
      }
      margin={
        <MarginNote title="Asked, not applied">
          <p>Boards fill in, clamp, and fall back without a word. A tune says what was asked; each start keeps what was in force, and how that is known.</p>
        </MarginNote>
      }
    >
      <Loaded query={list} what="the tunes">
        {(reply) => (reply.rows.length === 0 ? <NoTunes /> : <TuneTree rows={reply.rows} />)}
      </Loaded>
    </Page>
  )
}

function NoTunes(): ReactNode {
  return (
    <Empty>
      <p>A tune is a named set of settings: ratios, voltages, timings, power limits. Begin with what every machine gets, and let the others be changes on it.</p>
      <p>
        <Link className="button button-main" to="/tunes/new">
          Enter the first one
        </Link>
      </p>
      <p>Tunes also come with a settings dump, with runs that name theirs, and with a rig's journal.</p>
    </Empty>
  )
}

function TuneTree({ rows }: { readonly rows: readonly TuneListRow[] }): ReactNode {
  const { find } = useSearch({ from: '/tunes' })
  const navigate = useNavigate({ from: '/tunes' })
  const [first, setFirst] = useState<TuneListRow | null>(null)
  const wanted = useDeferredValue(find ?? '')
  const shown = useMemo(() => treeOf(rows, wanted), [rows, wanted])
  return (
    <>
      <search>
        <label className="tune-find">
          Find
          <input type="search" value={find ?? ''} placeholder="name, base, what it changes" onChange={(event) => void navigate({ search: { find: event.currentTarget.value === '' ? undefined : event.currentTarget.value }, replace: true })} />
        </label>
      </search>
      {first === null ? null : (
        <p className="notice chosen-line" role="status">
          <span>
            Compare <b>{first.name}</b> with which?
          </span>
          <button type="button" className="button-quiet" onClick={() => setFirst(null)}>
            Leave it
          </button>
        </p>
      )}
      {shown.length === 0 ? <p>No tune has all of these words in its name, its base or what it changes.</p> : null}
      <div className="sheet tune-ledger">
        <Ledger
          label="Tunes"
          columns={[
            {
              header: 'tune',
              render: ({ row, depth }) => (
                <span className="tune-place">
                  <span className="tune-depth" aria-hidden="true">
                    {depth === 0 ? '' : `${'\u00a0\u00a0'.repeat(depth - 1)}└\u00a0`}
                  </span>
                  <span>
                    <Link to="/tunes/$id" params={{ id: row.id }}>
                      {row.name}
                    </Link>
                    {row.baseName === null ? null : <span className="unseen"> on {row.baseName}</span>}
                  </span>
                </span>
              ),
            },
            { header: 'what it changes', wide: true, render: ({ row }) => <>{row.words}{row.override ? <strong> · past a ceiling</strong> : null}</> },
            { header: 'starts', align: 'number', render: ({ row }) => row.starts },
            { header: 'runs', align: 'number', render: ({ row }) => row.runs },
            {
              header: 'compare',
              unseen: true,
              render: ({ row }) =>
                first === null ? (
                  <button type="button" className="button-quiet" aria-label={`Compare ${row.name} with another`} onClick={() => setFirst(row)}>
                    Compare
                  </button>
                ) : first.id === row.id ? (
                  <span className="soft">this one</span>
                ) : (
                  <Link to="/tunes/compare" search={{ a: first.id, b: row.id }} aria-label={`Compare ${first.name} with ${row.name}`}>
                    with this
                  </Link>
                ),
            },
          ]}
          rows={shown}
          keyOf={({ row }) => row.id}
          quiet={({ context }) => context}
        />
      </div>
    </>
  )
}
