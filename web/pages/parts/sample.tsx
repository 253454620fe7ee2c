// One sample: what it is, what it may be used for, where it sits, what it ran, how it stands against its bins, and what it was given.
import { useState, type ReactNode } from 'react'
import { getRouteApi, Link } from '@tanstack/react-router'
import type { SampleWhole } from '@guardband/model/api'
import { counted, fixed } from '@guardband/model/figures'
import { useHub } from '../../hub/queries.ts'
import { amountText } from '../../pieces/amounts.ts'
import { EvidenceShelf } from '../../pieces/evidence-shelf.tsx'
import { Ledger } from '../../pieces/ledger.tsx'
import { RecordHistory } from '../../pieces/record-history.tsx'
import { Day, When } from '../../pieces/when.tsx'
import { MarginNote, Page } from '../../shell/page.tsx'
import { Loaded } from '../../shell/states.tsx'
import { Done, type DoneAct } from './done.tsx'
import { DosesSection } from './doses.tsx'
import { SampleDialog } from './sample-dialog.tsx'
import { StatusSection } from './sample-status.tsx'
import { SortEvidence, suggestionText } from './sorting.tsx'
import { PICKED_MEANS } from './status-words.ts'

const route = getRouteApi('/samples/$id')

export function SamplePage(): ReactNode {
  const { id } = route.useParams()
  const whole = useHub('sample', { params: { id } })
  const data = whole.data?.sample.id === id ? whole.data : undefined
  const name = data === undefined ? 'Sample' : `${data.part.name}, ${data.sample.label}`
  return (
    <Page
      crumbs={[{ text: 'Parts', to: '/parts' }, ...(data === undefined ? [] : [{ text: data.part.name, partId: data.part.id }]), { text: data?.sample.label ?? 'Sample' }]}
      name={name}
      headline={data === undefined ? 'Sample' : headline(data)}
      margin={data === undefined ? undefined : <SampleMargin whole={data} />}
    >
      <Loaded query={whole} what="the sample">
        {(reply) => (reply.sample.id === id ? <SampleBody key={id} whole={reply} /> : null)}
      </Loaded>
    </Page>
  )
}

function headline({ sample, part, stretches }: SampleWhole): string {
  const name = `${part.name}, ${sample.label}`
  if (sample.status === 'wet') return `${name}: wet, and locked until an inspection finds it dry.`
  if (sample.status === 'quarantined') return `${name}: in quarantine.`
  const now = stretches.find(({ until }) => until === null)
  return sample.status === 'for sale' ? `${name}: for sale.` : now === undefined ? `${name}: on the shelf.` : `${name}: in ${now.rig}.`
}

function SampleMargin({ whole }: { readonly whole: SampleWhole }): ReactNode {
  return (
    <>
      <MarginNote title={`Picked: ${whole.sample.picked}`}>
        <p>{PICKED_MEANS[whole.sample.picked]}</p>
        <p>What a sample was picked for can't be told from its scores afterwards. That is why it is asked when it comes in.</p>
      </MarginNote>
      {whole.sample.status !== 'wet' ? null : (
        <MarginNote title="Wet">
          <p>A wet sample is locked: nothing is started with it. It comes back when somebody looked at it, said what was found, and found it dry. Guardband can't see water; whoever inspects is answerable.</p>
        </MarginNote>
      )}
    </>
  )
}

function SampleBody({ whole }: { readonly whole: SampleWhole }): ReactNode {
  const { sample } = whole
  const [changing, setChanging] = useState(false)
  const [done, setDone] = useState<DoneAct | null>(null)
  return (
    <>
      <Done act={done} onGone={() => setDone(null)} />
      <StatusSection whole={whole} onDone={setDone} />
      <Identity whole={whole} onChange={() => setChanging(true)} />
      <Seats whole={whole} />
      <Runs whole={whole} />
      <BinSection whole={whole} />
      <DosesSection sample={sample} partName={whole.part.name} onDone={setDone} />
      <EvidenceShelf about={sample.id} />
      <RecordHistory id={sample.id} />
      {changing ? <SampleDialog whole={whole} onClose={() => setChanging(false)} /> : null}
    </>
  )
}

function Identity({ whole, onChange }: { readonly whole: SampleWhole; readonly onChange: () => void }): ReactNode {
  const { sample } = whole
  const currency = useHub('lab').data?.lab.currency ?? ''
  return (
    <section className="sheet">
      <h2>What it is</h2>
      <dl className="facts">
        <Fact term="serial">{sample.serial === undefined ? <span className="soft">not entered</span> : <span className="figure breaks">{sample.serial}</span>}</Fact>
        <Fact term="batch">{sample.batch ?? <span className="soft">not entered</span>}</Fact>
        <Fact term="from">{sample.origin === 'unknown' ? <span className="soft">nobody knows</span> : sample.origin}</Fact>
        <Fact term="picked">{sample.picked === 'unknown' ? <span className="soft">nobody knows how</span> : sample.picked}</Fact>
        {sample.paid === undefined ? null : (
          <Fact term="cost">
            {amountText(sample.paid.amount, currency)} on <Day at={sample.paid.at} />
          </Fact>
        )}
        {sample.note === undefined ? null : <Fact term="note">{sample.note}</Fact>}
      </dl>
      <div className="buttons">
        <button type="button" className="button" onClick={onChange}>
          Change
        </button>
      </div>
    </section>
  )
}

function Fact({ term, children }: { readonly term: string; readonly children: ReactNode }): ReactNode {
  return (
    <div>
      <dt>{term}</dt>
      <dd>{children}</dd>
    </div>
  )
}

function Seats({ whole }: { readonly whole: SampleWhole }): ReactNode {
  const now = whole.stretches.filter(({ until }) => until === null)
  return (
    <section className="sheet">
      <h2>Where it sits</h2>
      <p>
        {now.length === 0 ? 'In no rig. ' : null}
        {now.map((stretch) => (
          <span key={stretch.since}>
            In {stretch.rig}, as {stretch.slot}
            {stretch.position === null ? '' : ` ${stretch.position}`}, since <Day at={stretch.since} />.{' '}
          </span>
        ))}
        {now.length > 1 ? <strong>It can't sit in two rigs at once: one of them was not told that it left. </strong> : null}
        <Link to="/rigs">{now.length === 0 ? 'Put it into a rig' : 'Rigs'}</Link>
      </p>
      {whole.stretches.length === now.length ? null : (
        <Ledger
          label="Where it sat"
          even
          columns={[
            { header: 'from', render: ({ since }) => <Day at={since} /> },
            { header: 'to', render: ({ until }) => (until === null ? 'now' : <Day at={until} />) },
            { header: 'rig', render: ({ rig }) => rig },
            { header: 'as', render: ({ slot, position }) => `${slot}${position === null ? '' : ` ${position}`}` },
            { header: 'starts', align: 'number', render: ({ starts }) => starts },
          ]}
          rows={whole.stretches}
          keyOf={({ rigId, since, slot }) => `${rigId}|${since}|${slot}`}
        />
      )}
    </section>
  )
}

function Runs({ whole }: { readonly whole: SampleWhole }): ReactNode {
  const { sample, starts, runs, failed, setAside, lastStart, workloads } = whole
  return (
    <section className="sheet">
      <h2>What it ran</h2>
      {runs === 0 ? (
        <p className="soft">{starts === 0 ? 'Nothing yet.' : `${counted(starts, 'start')}, and no run.`}</p>
      ) : (
        <>
          <p>
            {counted(runs, 'run')} in {counted(starts, 'start')}
            {failed === 0 ? '; none failed' : `; ${fixed(failed, 0)} failed`}
            {setAside === 0 ? '' : `, ${fixed(setAside, 0)} set aside`}.
            {lastStart === null ? null : (
              <>
                {' '}
                Last started <When at={lastStart} />.
              </>
            )}{' '}
            <Link to="/runs" search={{ sample: sample.id }}>
              See its runs
            </Link>
          </p>
          <Ledger
            label="Runs by workload"
            columns={[
              { header: 'workload', render: ({ name }) => name },
              { header: 'runs', align: 'number', render: (row) => fixed(row.runs, 0) },
              ...(failed === 0 ? [] : [{ header: 'failed', align: 'number' as const, render: (row: SampleWhole['workloads'][number]) => (row.failed === 0 ? '' : fixed(row.failed, 0)), empty: (row: SampleWhole['workloads'][number]) => row.failed === 0 }]),
            ]}
            rows={workloads}
            keyOf={({ name }) => name}
          />
        </>
      )}
    </section>
  )
}

function BinSection({ whole }: { readonly whole: SampleWhole }): ReactNode {
  const { sample, part, bins, sorting } = whole
  if (bins.length === 0) return null
  const inside = bins.find(({ bin }) => bin.id === sample.bin?.binId)
  const suggested = bins.find(({ bin }) => bin.id === sorting.suggestedId)
  return (
    <section className="sheet">
      <h2>Bins</h2>
      <p>
        {inside === undefined || sample.bin === undefined ? (
          'In no bin yet. '
        ) : (
          <>
            In <b>{inside.bin.name}</b>, sorted by {sample.bin.by} on <Day at={sample.bin.at} />
            {sample.bin.reason === undefined ? '. ' : `: ${sample.bin.reason.replace(/\.$/, '')}. `}
          </>
        )}
        {suggestionText({ suggested, above: bins.filter(({ bin }) => sorting.openAboveIds.includes(bin.id)), inside })}{' '}
        <Link to="/parts/$id" params={{ id: part.id }}>
          Sort the samples of {part.name}
        </Link>
      </p>
      <SortEvidence bins={bins} sorting={sorting} />
    </section>
  )
}
