// One tune: what it comes to with its bases, what came of it in its starts, what stands on it, and its history.
import type { ReactNode } from 'react'
import { Link, useParams } from '@tanstack/react-router'
import type { ResolvedSetting, TuneStart, TuneWhole } from '@guardband/model/api/tunes'
import { counted } from '@guardband/model/figures'
import { settingText } from '@guardband/model/records/tune'
import { useHub } from '../../hub/queries.ts'
import { EvidenceShelf } from '../../pieces/evidence-shelf.tsx'
import { Ledger, type LedgerColumn } from '../../pieces/ledger.tsx'
import { RecordHistory } from '../../pieces/record-history.tsx'
import { MarginNote, Page } from '../../shell/page.tsx'
import { Failed, Waiting } from '../../shell/states.tsx'

export function TunePage(): ReactNode {
  const { id } = useParams({ from: '/tunes/$id' })
  const query = useHub('tune', { params: { id } })
  const whole = query.data?.tune.id === id ? query.data : undefined
  if (whole === undefined) {
    return (
      <Page crumbs={[{ text: 'Tunes', to: '/tunes' }, { text: 'Tune' }]} name="Tune" headline="A tune">
        {query.isError ? <Failed error={query.error} again={() => void query.refetch()} /> : <Waiting what="the tune" />}
      </Page>
    )
  }
  return <Whole whole={whole} />
}

function Whole({ whole }: { readonly whole: TuneWhole }): ReactNode {
  const { tune, base, settings, words, above, past, questions } = whole
  return (
    <Page
      crumbs={[{ text: 'Tunes', to: '/tunes' }, { text: tune.name }]}
      name={tune.name}
      headline={headlineOf(whole)}
      meta={
        <>
          <Link className="button button-main" to="/tunes/new" search={{ base: tune.id }}>
            New tune on it
          </Link>
          <Link className="button" to="/tunes/new" search={{ edit: tune.id }}>
            Change it
          </Link>
          <Link className="button" to="/tunes/compare" search={base === null ? { a: tune.id } : { a: base.id, b: tune.id }}>
            {base === null ? 'Compare' : `Compare with ${base.name}`}
          </Link>
        </>
      }
      margin={
        <>
          {base === null ? null : (
            <MarginNote title="Stands on">
              <p>
                <Link to="/tunes/$id" params={{ id: base.id }}>
                  {base.name}
                </Link>
                : {words}.
              </p>
            </MarginNote>
          )}
          {above.length === 0 ? null : (
            <MarginNote title={above.length === 1 ? 'One tune stands on it' : `${above.length} tunes stand on it`}>
              <p>They move when it changes.</p>
              <ul>
                {above.map((other) => (
                  <li key={other.id}>
                    <Link to="/tunes/$id" params={{ id: other.id }}>
                      {other.name}
                    </Link>
                    , {counted(other.runs, 'run')}
                  </li>
                ))}
              </ul>
            </MarginNote>
          )}
          <MarginNote title="Asked about in">
            {questions.length === 0 ? (
              <p>No question names it.</p>
            ) : (
              <ul>
                {questions.map(({ id, title }) => (
                  <li key={id}>
                    <Link to="/questions/$id" params={{ id }} search={{}}>
                      {title}
                    </Link>
                  </li>
                ))}
              </ul>
            )}
          </MarginNote>
        </>
      }
    >
      {tune.note === undefined ? null : <p>{tune.note}</p>}
      {past.length === 0 ? null : (
        <section className="notice notice-failed">
          {past.map(({ sentence, override }) => (
            <p key={sentence}>
              {sentence}
              {override ? '' : ' Nobody let it pass.'}
            </p>
          ))}
          {tune.override === undefined ? null : (
            <p>
              {tune.override.by} let it pass: {tune.override.reason}
            </p>
          )}
        </section>
      )}
      {settings.length === 0 ? <p>It asks for nothing: the machine as it comes.</p> : <Settings settings={settings} own={tune.id} starts={whole.asked.starts} />}
      <Starts whole={whole} />
      <EvidenceShelf about={tune.id} />
      <RecordHistory id={tune.id} />
    </Page>
  )
}

function headlineOf({ tune, settings, starts, runs }: TuneWhole): string {
  const ran = runs === 0 ? 'not run yet' : `${counted(runs, 'run')} in ${counted(starts, 'start')}`
  return `${tune.name}: ${counted(settings.length, 'setting')}, ${ran}.`
}

function Settings({ settings, own, starts }: { readonly settings: readonly ResolvedSetting[]; readonly own: string; readonly starts: number }): ReactNode {
  const groups = [...Map.groupBy(settings, ({ group }) => group)]
  return groups.map(([group, rows]) => (
    <section key={group} className="sheet tune-ledger">
      <h2>{group}</h2>
      <Ledger label={`${group}: what is asked`} columns={columnsFor(settings, own, starts)} even rows={rows} keyOf={({ setting, place }) => `${setting.key}|${place}`} quiet={({ from }) => from.id !== own && settings.some((other) => other.from.id === own)} />
    </section>
  ))
}

/** The same columns in every group, so that they line up; those that have nothing to say in any are left out. */
function columnsFor(rows: readonly ResolvedSetting[], own: string, starts: number): readonly LedgerColumn<ResolvedSetting>[] {
  const came: LedgerColumn<ResolvedSetting> = { header: 'came to', render: (row) => <Came row={row} />, empty: (row) => row.came.length === 0 }
  const ceiling: LedgerColumn<ResolvedSetting> = { header: 'ceiling', render: ({ ceiling: text, past }) => (past ? <span className="ceiling-past">past it</span> : (text ?? '')), empty: (row) => row.ceiling === null && !row.past }
  return [
    {
      header: 'setting',
      render: ({ setting, place }) => (
        <>
          {setting.key} {place === '' ? null : <span className="soft">{place}</span>}
        </>
      ),
    },
    { header: 'asked', align: 'number', render: ({ setting }) => settingText(setting.asked) },
    { header: 'from', render: ({ from }) => (from.id === own ? 'here' : from.name) },
    ...(starts > 0 && rows.some((row) => row.came.length > 0) ? [came] : []),
    ...(rows.some((row) => row.ceiling !== null || row.past) ? [ceiling] : []),
  ]
}

function Came({ row: { came } }: { readonly row: ResolvedSetting }): ReactNode {
  return came.map(({ value, as, starts, known }) => (
    <span key={`${value} ${known}`} className={as === 'otherwise' ? 'came came-otherwise' : 'came'}>
      {as === 'asked' ? 'as asked' : value} <span className="soft">in {counted(starts, 'start')}, {known}</span>
    </span>
  ))
}

const START_COLUMNS: readonly LedgerColumn<TuneStart & { readonly tuneId: string }>[] = [
  {
    header: 'start',
    render: ({ startId, name }) => (
      <Link to="/starts/$id" params={{ id: startId }}>
        {name}
      </Link>
    ),
  },
  {
    header: 'what came of it',
    wide: true,
    render: ({ instead, sentence, otherwise }) => (
      <>
        {instead === null ? null : <strong>{instead}. </strong>}
        <span className={otherwise > 0 ? 'came-otherwise' : undefined}>{sentence}</span>
      </>
    ),
  },
  {
    header: 'against asked',
    render: ({ startId, tuneId }) => (
      <Link to="/tunes/compare" search={{ a: tuneId, b: startId }}>
        Compare
      </Link>
    ),
  },
]

function Starts({ whole: { tune, asked } }: { readonly whole: TuneWhole }): ReactNode {
  if (asked.starts === 0) return null
  const came = asked.fallbacks === 0 ? 'none came up as something else' : `${asked.fallbacks} came up as something else`
  return (
    <section className="sheet tune-ledger">
      <h2>Starts that it was asked for</h2>
      <p className="soft">
        {counted(asked.starts, 'start')}; {came}{asked.unseen === 0 ? '' : `; in ${asked.unseen} nobody recorded single values`}.{asked.rows.length < asked.starts ? ` The last ${asked.rows.length}:` : ''}
      </p>
      <Ledger label={`Starts asked for ${tune.name}`} columns={START_COLUMNS} rows={asked.rows.map((row) => ({ ...row, tuneId: tune.id }))} keyOf={({ startId }) => startId} quiet={({ instead }) => instead !== null} />
    </section>
  )
}
