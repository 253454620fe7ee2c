// Enter runs: the sheets there are, a new one, or the one that the address names.
import { useCallback, useMemo, useState, type ReactNode } from 'react'
import { getRouteApi, Link } from '@tanstack/react-router'
import type { UsualValue } from '@guardband/model/api/sheets'
import type { Workload } from '@guardband/model/records/workload'
import { useHub } from '../../hub/queries.ts'
import { useRecords } from '../../hub/use-records.ts'
import { When } from '../../pieces/when.tsx'
import { Page } from '../../shell/page.tsx'
import { Empty, Failed, Waiting } from '../../shell/states.tsx'
import type { CostOf } from './draw-up.ts'
import { MakeSheet } from './make-sheet.tsx'
import { namesOf, type Catalogue } from './names.ts'
import { SheetPage } from './sheet-page.tsx'
import { useDesk } from './use-desk.ts'
import { useOnce } from './use-once.ts'

const route = getRouteApi('/runs/enter')

export function EnterPage(): ReactNode {
  const { sheet, start } = route.useSearch()
  const lab = useHub('lab')
  const known = useKnown()
  const failed = known.error ?? lab.error
  if (known.all === undefined || lab.data === undefined) {
    return (
      <Page crumbs={[{ text: 'Runs', to: '/runs' }, { text: 'Enter runs' }]} name="Enter runs" headline="Enter runs">
        {failed === null ? <Waiting what="parts and tunes" /> : <Failed error={failed} again={known.again} />}
      </Page>
    )
  }
  return sheet === undefined ? <Choose known={known.all} /> : <AtSheet key={sheet} sheetId={sheet} startId={start} labId={lab.data.lab.id} known={known.all} />
}

interface Known {
  readonly catalogue: Catalogue
  readonly workloads: readonly Workload[]
  readonly suites: Parameters<typeof MakeSheet>[0]['suites']
  readonly costOf: CostOf
}

/** What every sheet refers to. */
function useKnown(): { readonly all: Known | undefined; readonly error: Error | null; readonly again: () => void } {
  const parts = useOnce('records', PARTS)
  const samples = useOnce('records', SAMPLES)
  const tunes = useOnce('records', TUNES)
  const rigs = useOnce('records', RIGS)
  const work = useOnce('workloads', NOTHING)
  const overs = useOnce('changeOvers', NOTHING)
  const all = useMemo(() => {
    if (parts.data === undefined || samples.data === undefined || tunes.data === undefined || rigs.data === undefined || work.data === undefined || overs.data === undefined) return undefined
    const { rows } = overs.data
    const costOf: CostOf = (of) => {
      const row = rows.find((candidate) => candidate.of === of)
      return { hand: row?.hand ?? 0, machine: row?.machine ?? 0 }
    }
    const catalogue: Catalogue = {
      parts: parts.data.records.filter((record) => record.kind === 'part'),
      samples: samples.data.records.filter((record) => record.kind === 'sample'),
      tunes: tunes.data.records.filter((record) => record.kind === 'tune'),
      rigs: rigs.data.records.filter((record) => record.kind === 'rig'),
    }
    return { catalogue, workloads: work.data.workloads, suites: work.data.suites, costOf }
  }, [parts.data, samples.data, tunes.data, rigs.data, work.data, overs.data])
  const reads = [parts, samples, tunes, rigs, work, overs]
  return {
    all,
    error: reads.find(({ error }) => error !== null)?.error ?? null,
    again: () => {
      for (const read of reads) if (read.error !== null) read.again()
    },
  }
}

const PARTS = { input: { kind: 'part' } } as const
const SAMPLES = { input: { kind: 'sample' } } as const
const TUNES = { input: { kind: 'tune' } } as const
const RIGS = { input: { kind: 'rig' } } as const
const NOTHING = {} as const

function AtSheet({ sheetId, startId, labId, known }: { readonly sheetId: string; readonly startId: string | undefined; readonly labId: string; readonly known: Known }): ReactNode {
  const names = useCallback(() => ({ workloads: known.workloads, tuneName: namesOf(known.catalogue).tune }), [known])
  const { desk, error, again } = useDesk(sheetId, labId, names)
  const ids = desk?.state().sheet.workloadIds
  const workloads = useMemo(() => (ids ?? []).flatMap((id) => known.workloads.find((workload) => workload.id === id) ?? []), [ids, known.workloads])
  const usual = useOnce('usualValues', useMemo(() => ({ input: { sheetId } }), [sheetId]))
  const minutes = useMemo(() => ({ sample: known.costOf('sample change').hand, tune: known.costOf('tune change').hand }), [known])
  if (desk === undefined) {
    return (
      <Page crumbs={[{ text: 'Runs', to: '/runs' }, { text: 'Enter runs' }]} name="Enter runs" headline="Enter runs">
        {error === null ? <Waiting what="the sheet" /> : <Failed error={error} again={again} />}
      </Page>
    )
  }
  return <SheetPage desk={desk} startId={startId} workloads={workloads} usual={usual.data?.values ?? NO_VALUES} catalogue={known.catalogue} minutes={minutes} />
}

const NO_VALUES: readonly UsualValue[] = []

function Choose({ known }: { readonly known: Known }): ReactNode {
  const sheets = useRecords('sheet')
  const assemblies = useRecords('assembly')
  const toDo = useHub('toDo')
  const [of, setOf] = useState<'a day' | 'one start'>('a day')
  const missing = [
    ...(known.catalogue.rigs.length === 0 ? ['a rig'] : []),
    ...(known.catalogue.samples.length === 0 ? ['a part with a sample'] : []),
    ...(known.catalogue.tunes.length === 0 ? ['a tune'] : []),
    ...(known.workloads.length === 0 ? ['a workload'] : []),
  ]
  const open = toDo.data?.sheets ?? []
  return (
    <Page crumbs={[{ text: 'Runs', to: '/runs' }, { text: 'Enter runs' }]} name="Enter runs" headline={open.length === 0 ? 'Enter runs by hand' : 'Go on with a sheet, or make a new one'}>
      {open.length === 0 ? null : (
        <ul className="sheet-list">
          {open.map(({ id, name, rig, done, of: whole, next }) => (
            <li key={id}>
              <Link to="/runs/enter" search={{ sheet: id, ...(next === null ? {} : { start: next.startId }) }}>
                {name}
              </Link>{' '}
              <span className="soft">
                {rig}, {done} of {whole} starts done
              </span>
            </li>
          ))}
        </ul>
      )}
      {missing.length > 0 ? (
        <Empty title="What is missing before runs can be entered">
          <p>
            Runs need {missing.join(', ')}. Make them on <Link to="/parts">Parts</Link>, <Link to="/tunes">Tunes</Link>, <Link to="/rigs">Rigs</Link> and <Link to="/lab">Lab</Link>, or take in a file of runs, which brings all of them.
          </p>
        </Empty>
      ) : sheets.records === undefined || assemblies.records === undefined ? (
        <Waiting what="sheets" />
      ) : (
        <section className="make">
          <h2>{of === 'a day' ? 'A new sheet' : 'Just one start now'}</h2>
          <p>
            {of === 'a day' ? 'The starts of a day in order: each is worked off in the grid, or on the phone.' : 'A sheet of one start, with what sits in the rig.'}{' '}
            <button type="button" className="button-quiet" onClick={() => setOf(of === 'a day' ? 'one start' : 'a day')}>
              {of === 'a day' ? 'Just one start now, without a plan' : 'Plan a day instead'}
            </button>
          </p>
          <MakeSheet key={of} of={of} catalogue={known.catalogue} workloads={known.workloads} suites={known.suites} assemblies={assemblies.records} last={sheets.records.at(-1)} costOf={known.costOf} />
          {sheets.records.length > 0 ? (
            <details className="more">
              <summary>All sheets</summary>
              <ul className="sheet-list">
                {sheets.records.toReversed().map((sheet) => (
                  <li key={sheet.id}>
                    <Link to="/runs/enter" search={{ sheet: sheet.id }}>
                      {sheet.name}
                    </Link>{' '}
                    <span className="soft">
                      <When at={sheet.at} />
                    </span>
                  </li>
                ))}
              </ul>
            </details>
          ) : null}
        </section>
      )}
    </Page>
  )
}
