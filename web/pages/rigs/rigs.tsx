// Rigs: what sits in each and since when, how the cooler is on, under which conditions it last started, and what happened on it.
import { useState, type ReactNode } from 'react'
import { Link } from '@tanstack/react-router'
import type { RigRow } from '@guardband/model/api'
import { counted } from '@guardband/model/figures'
import { useLiveRigs } from '../../hub/live-rigs.ts'
import { useHub } from '../../hub/queries.ts'
import { asksFirst } from '../../pieces/live-words.ts'
import { MarginNote, Page } from '../../shell/page.tsx'
import { Empty, Failed, Loaded } from '../../shell/states.tsx'
import { liveSentence } from '../live/live-sentence.ts'
import { LiveNews } from '../live/live-news.tsx'
import { LiveRigSection } from '../live/live-rig.tsx'
import { Done, type DoneAct } from '../parts/done.tsx'
import { RigCommands, RigPairing } from '../rig-commands.tsx'
import { RigDialog } from './rig-dialog.tsx'
import { RigSection } from './rig-section.tsx'

export function RigsPage(): ReactNode {
  const rigs = useHub('rigs')
  const live = useLiveRigs()
  const sight = live.data
  const atWork = liveSentence(sight?.rigs ?? [])
  const rows = rigs.data?.rows
  const [adding, setAdding] = useState(false)
  const [done, setDone] = useState<DoneAct | null>(null)
  return (
    <Page
      crumbs={[{ text: 'Rigs' }]}
      name="Rigs"
      headline={rows === undefined ? 'Rigs' : atWork !== '' ? atWork : rows.length === 0 ? 'No rigs yet.' : sumUp(rows)}
      meta={
        rows === undefined || rows.length === 0 ? undefined : (
          <>
            {atWork === '' ? null : <span>{sumUp(rows)}</span>}
            <button type="button" className={atWork === '' ? 'button button-main' : 'button'} onClick={() => setAdding(true)}>
              Add a rig
            </button>
          </>
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
      <LiveNews rigs={sight?.rigs} />
      {live.isError && sight !== undefined ? <Failed error={live.error} again={() => void live.refetch()} /> : null}
      {sight === undefined ? null : asksFirst(sight.rigs).map((rig) => <LiveRigSection key={rig.device.id} rig={rig} ahead={sight.ahead} />)}
      <Loaded query={rigs} what="the rigs">
        {(reply) => (reply.rows.length === 0 ? sight === undefined || sight.rigs.length === 0 ? <NoRigs onAdd={() => setAdding(true)} /> : <NoRecordYet /> : reply.rows.map((row) => <RigSection key={row.rig.id} row={row} rows={reply.rows} onDone={setDone} />))}
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

/** A rig is known by its record with the first start that it hands over. */
function NoRecordYet(): ReactNode {
  return <p className="soft">What sits in it is shown here once its first start has come in.</p>
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
      <p>
        Or put a rig on the machine under test. On <Link to="/lab/devices">Lab, Devices</Link> listen for rigs and show a code; on the machine pair it with that code, look through what the plan would run and approve it, and run it:
      </p>
      <RigPairing />
      <p>It then shows here what it is at and what it asks, and its runs come in by themselves. It goes on through crashes and without a connection; what it wrote meanwhile follows.</p>
      <p>A machine on no network runs the same plan alone. Bring its journals here later, as often as you like: what is here already is not taken in twice.</p>
      <RigCommands />
    </Empty>
  )
}
