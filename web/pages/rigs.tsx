// Rigs: what sits in each, how the cooler is on, and when it last started.
import type { ReactNode } from 'react'
import type { RigRow } from '@guardband/model/api'
import { counted } from '@guardband/model/figures'
import { useHub } from '../hub/queries.ts'
import { Ledger, type LedgerColumn } from '../pieces/ledger.tsx'
import { Day, When } from '../pieces/when.tsx'
import { MarginNote, Page } from '../shell/page.tsx'
import { Empty, Loaded } from '../shell/states.tsx'
import { RigCommands } from './rig-commands.tsx'

export function RigsPage(): ReactNode {
  const rigs = useHub('rigs')
  const rows = rigs.data?.rows
  return (
    <Page
      crumbs={[{ text: 'Rigs' }]}
      name="Rigs"
      headline={rows === undefined ? 'Rigs' : rows.length === 0 ? 'No rigs yet.' : `${counted(rows.length, 'rig')}, ${counted(rows.reduce((sum, row) => sum + row.starts, 0), 'start')}.`}
      margin={
        <MarginNote title="No protective device">
          <p>The rig's ceilings stop a plan; they do not stop a fault. Where something can burn, an independent cut-out has to.</p>
        </MarginNote>
      }
    >
      <Loaded query={rigs} what="the rigs">{(reply) => (reply.rows.length === 0 ? <NoRigs /> : reply.rows.map((row) => <RigSection key={row.rig.id} row={row} />))}</Loaded>
    </Page>
  )
}

function NoRigs(): ReactNode {
  return (
    <Empty>
      <p>A rig appears with the first runs recorded on it. On the machine under test, write a plan, approve what it would run, and run it; its journals then bring the runs here:</p>
      <RigCommands />
      <p>Take journals in as often as you like: what is here already is not taken in twice.</p>
    </Empty>
  )
}

function RigSection({ row }: { readonly row: RigRow }): ReactNode {
  const [now, ...before] = row.assemblies.toSorted((a, b) => b.assembly.since.localeCompare(a.assembly.since))
  return (
    <section className="sheet">
      <h2 className="with-side">
        {row.rig.name}
        <small className="side">
          {counted(row.starts, 'start')}
          {row.journals > 0 ? ` · ${counted(row.journals, 'journal')}` : ''}
          {row.lastStart === null ? null : (
            <>
              {' · last '}
              <When at={row.lastStart} />
            </>
          )}
        </small>
      </h2>
      {now === undefined ? <p className="soft">Nothing is known of what sits in it.</p> : <Assemblies label={`What sits in ${row.rig.name}`} rows={[now]} />}
      {before.length === 0 ? null : (
        <details className="more">
          <summary>{counted(before.length, 'earlier assembly', 'earlier assemblies')}</summary>
          <Assemblies label={`Earlier assemblies of ${row.rig.name}`} rows={before} />
        </details>
      )}
    </section>
  )
}

type AssemblyRow = RigRow['assemblies'][number]

function Assemblies({ label, rows }: { readonly label: string; readonly rows: readonly AssemblyRow[] }): ReactNode {
  return <Ledger label={label} even columns={COLUMNS} rows={rows} keyOf={({ assembly }) => assembly.id} />
}

const COLUMNS: readonly LedgerColumn<AssemblyRow>[] = [
  { header: 'since', render: ({ assembly }) => <Day at={assembly.since} /> },
  {
    header: 'what sits in it',
    wide: true,
    render: ({ slots }) => (
      <ul className="plain slots">
        {slots.map((slot) => (
          <li key={`${slot.slot}|${slot.sample}`}>
            <span className="soft">{slot.slot}</span>
            <span>
              {slot.part} {slot.sample === slot.part ? null : <small>{slot.sample}</small>}
            </span>
          </li>
        ))}
      </ul>
    ),
  },
  {
    header: 'cooler mounted',
    empty: ({ mounts }) => mounts.length === 0,
    render: ({ mounts }) => mounts.length === 0 ? <span className="soft">not recorded</span> : (
      <ul className="plain">
        {mounts.map((mount) => (
          <li key={mount.id}>
            <Day at={mount.at} />
            <small>{[mount.paste, mount.torque, mount.frame].filter((part) => part !== undefined).join(', ')}</small>
          </li>
        ))}
      </ul>
    ),
  },
]
