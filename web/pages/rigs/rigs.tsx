// Rigs: what sits in each and since when, how the cooler is on, under which conditions it last started, and what happened on it.
import { useState, type ReactNode } from 'react'
import type { RigRow } from '@guardband/model/api'
import { counted } from '@guardband/model/figures'
import { useHub } from '../../hub/queries.ts'
import { MarginNote, Page } from '../../shell/page.tsx'
import { Empty, Loaded } from '../../shell/states.tsx'
import { Done, type DoneAct } from '../parts/done.tsx'
import { RigCommands } from '../rig-commands.tsx'
import { RigDialog } from './rig-dialog.tsx'
import { RigSection } from './rig-section.tsx'

export function RigsPage(): ReactNode {
  const rigs = useHub('rigs')
  const rows = rigs.data?.rows
  const [adding, setAdding] = useState(false)
  const [done, setDone] = useState<DoneAct | null>(null)
  return (
    <Page
      crumbs={[{ text: 'Rigs' }]}
      name="Rigs"
      headline={rows === undefined ? 'Rigs' : rows.length === 0 ? 'No rigs yet.' : sumUp(rows)}
      meta={
        rows === undefined || rows.length === 0 ? undefined : (
          <button type="button" className="button button-main" onClick={() => setAdding(true)}>
            Add a rig
          </button>
        )
      }
      margin={
        <>
          <MarginNote title="A remount is an event">
            <p>Two mountings of one cooler differ by degrees. Enter each: answers can then tell the mounting from the sample.</p>
          </MarginNote>
          <MarginNote title="No protective device">
            <p>The rig's ceilings stop a plan; they do not stop a fault. Where something can burn, an independent cut-out has to.</p>
          </MarginNote>
        </>
      }
    >
      <Done act={done} onGone={() => setDone(null)} />
      <Loaded query={rigs} what="the rigs">
        {(reply) => (reply.rows.length === 0 ? <NoRigs onAdd={() => setAdding(true)} /> : reply.rows.map((row) => <RigSection key={row.rig.id} row={row} rows={reply.rows} onDone={setDone} />))}
      </Loaded>
      {adding ? <RigDialog rows={rows ?? []} onClose={() => setAdding(false)} /> : null}
    </Page>
  )
}

function sumUp(rows: readonly RigRow[]): string {
  const empty = rows.filter((row) => row.assemblies.length === 0).length
  return `${counted(rows.length, 'rig')}, ${counted(
    rows.reduce((sum, row) => sum + row.starts, 0),
    'start',
  )}${empty === 0 ? '' : `; ${empty === rows.length ? `nothing is known of what sits in ${rows.length === 1 ? 'it' : 'them'}` : `of ${empty} nobody said what sits in it`}`}.`
}

function NoRigs({ onAdd }: { readonly onAdd: () => void }): ReactNode {
  return (
    <Empty>
      <p>A rig is a station on your bench. Add one to enter runs by hand:</p>
      <p>
        <button type="button" className="button button-main" onClick={onAdd}>
          Add a rig
        </button>
      </p>
      <p>Or let it appear with the first runs recorded on it. On the machine under test, write a plan, approve what it would run, and run it; its journals then bring the runs here:</p>
      <RigCommands />
      <p>Take journals in as often as you like: what is here already is not taken in twice.</p>
    </Empty>
  )
}
