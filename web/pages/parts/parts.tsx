// Parts and their samples, found by words, status, bin and how they were picked; long ones are folded.
import { memo, useDeferredValue, useMemo, useState, type ReactNode } from 'react'
import { getRouteApi, Link, useNavigate } from '@tanstack/react-router'
import type { PartRow } from '@guardband/model/api'
import { counted, fixed } from '@guardband/model/figures'
import type { Bin } from '@guardband/model/records/parts'
import { useHub } from '../../hub/queries.ts'
import { ChoiceField, Field, type Choice } from '../../pieces/field.tsx'
import { Ledger } from '../../pieces/ledger.tsx'
import { MarginNote, Page } from '../../shell/page.tsx'
import { Empty, Loaded } from '../../shell/states.tsx'
import { PartDialog } from './part-dialog.tsx'
import { fits, isFilter, NO_BIN, partFilterOf, type PartFilter } from './part-filter.ts'
import { LatestPrice } from './prices.tsx'
import { sampleColumns } from './sample-columns.tsx'
import { PICKED_CHOICES, STATUS_CHOICES } from './status-words.ts'

const route = getRouteApi('/parts')

export function PartsPage(): ReactNode {
  const parts = useHub('parts')
  const rows = parts.data?.rows
  const navigate = useNavigate()
  const [adding, setAdding] = useState(false)
  return (
    <Page
      crumbs={[{ text: 'Parts' }]}
      name="Parts"
      headline={rows === undefined ? 'Parts' : rows.length === 0 ? 'No parts yet.' : sumUp(rows)}
      meta={
        rows === undefined || rows.length === 0 ? undefined : (
          <button type="button" className="button button-main" onClick={() => setAdding(true)}>
            Add a part
          </button>
        )
      }
      margin={
        <MarginNote title="Why it matters how a sample was picked">
          <p>Samples picked at random speak for others of their kind. A sample that somebody chose, or that a press office sent, speaks for itself; answers that rest on such samples say so.</p>
        </MarginNote>
      }
    >
      <Loaded query={parts} what="the parts">
        {(reply) => (reply.rows.length === 0 ? <NoParts onAdd={() => setAdding(true)} /> : <FoundParts rows={reply.rows} />)}
      </Loaded>
      {adding ? <PartDialog onClose={() => setAdding(false)} onDone={(part) => void navigate({ to: '/parts/$id', params: { id: part.id } })} /> : null}
    </Page>
  )
}

function sumUp(rows: readonly PartRow[]): string {
  const samples = rows.flatMap((row) => row.samples)
  const quarantined = samples.filter(({ sample }) => sample.status === 'quarantined').length
  const wet = samples.filter(({ sample }) => sample.status === 'wet').length
  const locked = [...(quarantined === 0 ? [] : [`${fixed(quarantined, 0)} in quarantine`]), ...(wet === 0 ? [] : [`${fixed(wet, 0)} wet`])]
  return `${counted(samples.length, 'sample')} of ${counted(rows.length, 'part')}${locked.length === 0 ? '' : `; ${locked.join(', ')}`}.`
}

function NoParts({ onAdd }: { readonly onAdd: () => void }): ReactNode {
  return (
    <Empty>
      <p>Parts and samples come with the runs that name them. Or add a part here, then scan or paste the serials of a whole tray.</p>
      <p className="buttons">
        <button type="button" className="button button-main" onClick={onAdd}>
          Add a part
        </button>
        <Link className="button" to="/runs/take">
          Take in a file of runs
        </Link>
      </p>
    </Empty>
  )
}

function FoundParts({ rows }: { readonly rows: readonly PartRow[] }): ReactNode {
  const filter = route.useSearch()
  const looked = useDeferredValue(filter)
  const records = useHub('records', { input: { kind: 'bin' } }).data?.records
  const binOf = useMemo(() => new Map((records ?? []).flatMap((bin) => (bin.kind === 'bin' ? [[bin.id, bin] as const] : []))), [records])
  const filtered = isFilter(looked)
  const found = useMemo(
    () =>
      rows.flatMap((row) => {
        if (!filtered) return [row]
        const samples = row.samples.filter(({ sample }) => fits(looked, sample, { part: row.part.name, bin: binOf.get(sample.bin?.binId ?? '')?.name ?? '' }))
        const named = samples.length === 0 && row.samples.length === 0 && !isFilter({ ...looked, find: undefined }) && row.part.name.toLowerCase().includes((looked.find ?? '').toLowerCase())
        return samples.length > 0 || named ? [{ ...row, samples }] : []
      }),
    [rows, looked, filtered, binOf],
  )
  const samples = found.reduce((sum, row) => sum + row.samples.length, 0)
  return (
    <>
      <Filters filter={filter} bins={[...binOf.values()]} rows={rows} />
      {filtered ? (
        <p className="soft" role="status">
          {found.length === 0 ? 'No sample matches. ' : `${counted(samples, 'sample')} of ${counted(found.length, 'part')} found. `}
          <Link to="/parts" search={{}}>
            See all
          </Link>
        </p>
      ) : null}
      {found.map((row) => (
        <PartSection key={row.part.id} row={row} binOf={binOf} shown={filtered ? FOUND_SHOWN : FOLDED_SHOWN} find={looked.find} />
      ))}
    </>
  )
}

function Filters({ filter, bins, rows }: { readonly filter: PartFilter; readonly bins: readonly Bin[]; readonly rows: readonly PartRow[] }): ReactNode {
  const navigate = useNavigate()
  const put = (changed: Readonly<Record<string, unknown>>): void => void navigate({ to: '/parts', search: partFilterOf({ ...filter, ...changed }), replace: true })
  const partName = new Map(rows.map((row) => [row.part.id, row.part.name]))
  const binChoices: readonly Choice[] = [{ value: '', text: 'any' }, { value: NO_BIN, text: 'not sorted' }, ...bins.map((bin) => ({ value: bin.id, text: `${bin.name}, ${partName.get(bin.partId) ?? ''}` }))]
  return (
    <search>
      <form className="filters" onSubmit={(event) => event.preventDefault()}>
        <Field label="Find">
          {(control) => <input {...control} type="search" defaultValue={filter.find ?? ''} maxLength={200} placeholder="part, label, serial, batch ..." onChange={(event) => put({ find: event.currentTarget.value })} />}
        </Field>
        <ChoiceField label="Status" value={filter.status ?? ''} choices={[{ value: '', text: 'any' }, ...STATUS_CHOICES]} onValue={(status) => put({ status })} />
        <ChoiceField label="Picked" value={filter.picked ?? ''} choices={[{ value: '', text: 'any' }, ...PICKED_CHOICES]} onValue={(picked) => put({ picked })} />
        {bins.length === 0 ? null : <ChoiceField label="Bin" value={filter.bin ?? ''} choices={binChoices} onValue={(bin) => put({ bin })} />}
      </form>
    </search>
  )
}

/** Kept while a word is typed, until what it shows changes. */
const PartSection = memo(function PartSection({ row, binOf, shown, find }: { readonly row: PartRow; readonly binOf: ReadonlyMap<string, Bin>; readonly shown: number; readonly find: string | undefined }): ReactNode {
  // One that is only just too long is shown whole.
  const samples = row.samples.length <= shown + FOLD_SLACK ? row.samples : row.samples.slice(0, shown)
  const hasBins = row.samples.some(({ sample }) => sample.bin !== undefined)
  return (
    <section className="sheet part-section">
      <h2 className="with-side">
        <Link to="/parts/$id" params={{ id: row.part.id }}>
          {row.part.name}
        </Link>{' '}
        <small>{row.part.slot}</small>
        <small className="side">
          <LatestPrice of={row.part} />
        </small>
      </h2>
      {row.part.note === undefined ? null : <p className="soft">{row.part.note}</p>}
      {row.samples.length === 0 ? (
        <p className="soft">
          No sample of it yet.{' '}
          <Link to="/parts/$id" params={{ id: row.part.id }} search={{ enter: 'tray' }}>
            Enter a tray of samples
          </Link>
        </p>
      ) : (
        <Ledger label={`Samples of ${row.part.name}`} columns={sampleColumns({ binOf: hasBins ? binOf : null })} even rows={samples} keyOf={({ sample }) => sample.id} />
      )}
      {samples.length === row.samples.length ? null : (
        <p>
          <Link to="/parts/$id" params={{ id: row.part.id }} search={find === undefined ? {} : { find }}>
            {counted(row.samples.length - samples.length, 'more sample')} of {row.part.name}
          </Link>
        </p>
      )}
    </section>
  )
})

const FOLDED_SHOWN = 8
const FOUND_SHOWN = 16
const FOLD_SLACK = 4
