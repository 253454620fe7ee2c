// One part: its price, all of its samples, the tray by which more come in, and the bins that they are sorted into.
import { useDeferredValue, useMemo, useState, type ReactNode } from 'react'
import { getRouteApi, Link, useNavigate } from '@tanstack/react-router'
import type { PartWhole } from '@guardband/model/api'
import { counted, fixed } from '@guardband/model/figures'
import { useHub } from '../../hub/queries.ts'
import { amountText } from '../../pieces/amounts.ts'
import { EvidenceShelf } from '../../pieces/evidence-shelf.tsx'
import { Field } from '../../pieces/field.tsx'
import { Ledger } from '../../pieces/ledger.tsx'
import { RecordHistory } from '../../pieces/record-history.tsx'
import { MarginNote, Page } from '../../shell/page.tsx'
import { Loaded } from '../../shell/states.tsx'
import { BinsSection } from './bins.tsx'
import { Done, type DoneAct } from './done.tsx'
import { PartDialog } from './part-dialog.tsx'
import { fits } from './part-filter.ts'
import { EarlierPrices, LatestPrice, PriceDialog } from './prices.tsx'
import { sampleColumns } from './sample-columns.tsx'
import { TrayForm } from './tray-form.tsx'

const route = getRouteApi('/parts/$id')

export function PartPage(): ReactNode {
  const { id } = route.useParams()
  const whole = useHub('part', { params: { id } })
  const data = whole.data?.part.id === id ? whole.data : undefined
  return (
    <Page crumbs={[{ text: 'Parts', to: '/parts' }, { text: data?.part.name ?? 'Part' }]} name={data?.part.name ?? 'Part'} headline={data === undefined ? 'Part' : headline(data)} margin={<PartMargin />}>
      <Loaded query={whole} what="the part">
        {(reply) => (reply.part.id === id ? <PartBody key={id} whole={reply} /> : null)}
      </Loaded>
    </Page>
  )
}

function headline({ part, samples }: PartWhole): string {
  const locked = (['quarantined', 'wet'] as const).flatMap((status) => {
    const count = samples.filter(({ sample }) => sample.status === status).length
    return count === 0 ? [] : [`${fixed(count, 0)} ${status === 'wet' ? 'wet' : 'in quarantine'}`]
  })
  const rest = locked.length === 0 ? '' : `; ${locked.join(', ')}`
  return samples.length === 0 ? `${part.name}: no sample of it yet.` : `${part.name}: ${counted(samples.length, 'sample')}${rest}.`
}

function PartMargin(): ReactNode {
  return (
    <>
      <MarginNote title="A tray at a time">
        <p>Click into the box for serials and scan one box after the other, or paste a column. What is there twice, or looks unlike the rest, is named before anything is entered.</p>
      </MarginNote>
      <MarginNote title="A bin is decided by a person">
        <p>Guardband holds the runs against what a bin asks and says which are met. Into which bin a sample goes, a person confirms; against its evidence, with a reason.</p>
      </MarginNote>
    </>
  )
}

function PartBody({ whole }: { readonly whole: PartWhole }): ReactNode {
  const { part, samples } = whole
  const { enter } = route.useSearch()
  const navigate = useNavigate()
  const [dialog, setDialog] = useState<'change' | 'price' | null>(null)
  const [done, setDone] = useState<DoneAct | null>(null)
  const currency = useHub('lab').data?.lab.currency ?? ''
  const paid = samples.flatMap(({ sample }) => (sample.paid === undefined ? [] : [sample.paid.amount]))
  const setTray = (open: boolean): void => void navigate({ to: '/parts/$id', params: { id: part.id }, search: open ? { enter: 'tray' } : {}, replace: true })
  return (
    <>
      <Done act={done} onGone={() => setDone(null)} />
      <section className="part-facts">
        <dl className="facts">
          <div>
            <dt>slot</dt>
            <dd>{part.slot}</dd>
          </div>
          <div>
            <dt>price</dt>
            <dd>
              <LatestPrice of={part} />
              <EarlierPrices of={part} />
            </dd>
          </div>
          {paid.length === 0 ? null : (
            <div>
              <dt>paid for samples</dt>
              <dd>
                {amountText(paid.reduce((sum, amount) => sum + amount, 0), currency)} for {paid.length === samples.length ? 'all' : `${paid.length} of ${samples.length}`}
              </dd>
            </div>
          )}
          {part.note === undefined ? null : (
            <div>
              <dt>note</dt>
              <dd>{part.note}</dd>
            </div>
          )}
        </dl>
        <div className="buttons">
          {enter === 'tray' ? null : (
            <button type="button" className="button button-main" onClick={() => setTray(true)}>
              Enter a tray of samples
            </button>
          )}
          <button type="button" className="button" onClick={() => setDialog('price')}>
            New price
          </button>
          <button type="button" className="button" onClick={() => setDialog('change')}>
            Change the part
          </button>
        </div>
      </section>
      {enter === 'tray' ? (
        <TrayForm
          part={part}
          onClose={() => setTray(false)}
          onDone={(act) => {
            setDone(act)
            setTray(false)
          }}
        />
      ) : null}
      <SamplesSection whole={whole} />
      <BinsSection whole={whole} onDone={setDone} />
      <EvidenceShelf about={part.id} />
      <RecordHistory id={part.id} />
      {dialog === 'price' ? <PriceDialog of={part} onClose={() => setDialog(null)} /> : null}
      {dialog === 'change' ? <PartDialog part={part} onClose={() => setDialog(null)} onDone={() => setDialog(null)} /> : null}
    </>
  )
}

function SamplesSection({ whole }: { readonly whole: PartWhole }): ReactNode {
  const { part, samples, bins } = whole
  const search = route.useSearch()
  const navigate = useNavigate()
  const find = useDeferredValue(search.find ?? '')
  const [most, setMost] = useState(PAGE)
  const binOf = useMemo(() => new Map(bins.map(({ bin }) => [bin.id, bin])), [bins])
  const seats = useMemo(() => new Map(samples.map(({ sample, seat }) => [sample.id, seat?.rig ?? null])), [samples])
  const found = find === '' ? samples : samples.filter(({ sample }) => fits({ find }, sample, { part: part.name, bin: binOf.get(sample.bin?.binId ?? '')?.name ?? '' }))
  if (samples.length === 0) return null
  return (
    <section className="sheet sample-list">
      <h2>Samples</h2>
      {samples.length <= FEW ? null : (
        <Field label="Find">
          {(control) => (
            <input
              {...control}
              type="search"
              defaultValue={search.find ?? ''}
              maxLength={200}
              placeholder="label, serial, batch, status ..."
              onChange={(event) => {
                const text = event.currentTarget.value.trim()
                void navigate({ to: '/parts/$id', params: { id: part.id }, search: { ...search, find: text === '' ? undefined : text }, replace: true })
              }}
            />
          )}
        </Field>
      )}
      {found.length === 0 ? (
        <p role="status">
          No sample matches.{' '}
          <Link to="/parts/$id" params={{ id: part.id }} search={{}}>
            See all
          </Link>
        </p>
      ) : (
        <Ledger
          label={`Samples of ${part.name}`}
          columns={sampleColumns({ binOf: bins.length === 0 ? null : binOf, seatOf: (id) => seats.get(id) ?? null })}
          rows={found.slice(0, most)}
          keyOf={({ sample }) => sample.id}
        />
      )}
      {found.length <= most ? null : (
        <p>
          <button type="button" className="button" onClick={() => setMost(most + PAGE)}>
            Show {Math.min(PAGE, found.length - most)} more of {fixed(found.length, 0)}
          </button>
        </p>
      )}
    </section>
  )
}

const PAGE = 50
/** As many are seen at a glance. */
const FEW = 12
