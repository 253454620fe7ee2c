// How two tunes differ, or a tune and what was in force: a sentence, then what differs by domain and place, and the whole as text to copy.
import { useState, type ReactNode } from 'react'
import { Link, useNavigate, useSearch } from '@tanstack/react-router'
import type { TuneDifference, TuneListRow } from '@guardband/model/api/tunes'
import { counted } from '@guardband/model/figures'
import { useHub } from '../../hub/queries.ts'
import { ChoiceField, type Choice } from '../../pieces/field.tsx'
import { MarginNote, Page } from '../../shell/page.tsx'
import { Empty, Loaded } from '../../shell/states.tsx'
import { DifferenceTable } from './difference-table.tsx'

export function ComparePage(): ReactNode {
  const { a, b } = useSearch({ from: '/tunes/compare' })
  const list = useHub('tuneList')
  const found = useHub('tuneDifference', { input: { a: a ?? '', b: b ?? '' }, ...(a === undefined || b === undefined ? { skip: true } : {}) })
  const told = a === undefined || b === undefined || found.data?.a.id !== a || found.data?.b.id !== b ? undefined : found.data
  return (
    <Page
      crumbs={[{ text: 'Tunes', to: '/tunes' }, { text: 'Compare' }]}
      name="Compare tunes"
      headline={told === undefined ? 'How do two tunes differ?' : (told.applied?.sentence ?? headlineOf(told.difference))}
      meta={told === undefined ? undefined : <Copy text={told.difference.text} />}
      margin={
        <MarginNote title="What counts as the same">
          <p>Values are compared in one unit: 1250 mV and 1.25 V are no difference. Bases are resolved first, so the tunes need not stand on each other.</p>
        </MarginNote>
      }
    >
      <Sides rows={list.data?.rows ?? []} a={a} b={b} told={told} />
      {a === undefined || b === undefined ? (
        <Empty>
          <p>Choose both sides. From a tune's own page it can also be held against what was in force in a start.</p>
        </Empty>
      ) : (
        <Loaded query={found} what="the difference">
          {() => (told === undefined ? null : <Told told={told} />)}
        </Loaded>
      )}
    </Page>
  )
}

/** Many differences make no headline; the tables below have them all. */
function headlineOf({ sentence, nameA, nameB, groups }: TuneDifference['difference']): string {
  return sentence.length <= LONGEST_HEADLINE ? sentence : `${nameB} differs from ${nameA} in ${counted(groups.reduce((sum, { rows }) => sum + rows.length, 0), 'setting')}.`
}

const LONGEST_HEADLINE = 160

function Sides({ rows, a, b, told }: { readonly rows: readonly TuneListRow[]; readonly a: string | undefined; readonly b: string | undefined; readonly told: TuneDifference | undefined }): ReactNode {
  const navigate = useNavigate({ from: '/tunes/compare' })
  const choices = (chosen: string | undefined, side: TuneDifference['a'] | undefined): readonly Choice[] => [
    ...(chosen === undefined ? [{ value: '', text: 'choose' }] : []),
    ...(side?.is === 'in force' ? [{ value: side.id, text: side.name }] : []),
    ...rows.map(({ id, name }) => ({ value: id, text: name })),
  ]
  return (
    <div className="sides">
      <ChoiceField label="A" value={a ?? ''} choices={choices(a, told?.a)} onValue={(value) => void navigate({ search: { a: value, b } })} />
      <ChoiceField label="B" value={b ?? ''} choices={choices(b, told?.b)} onValue={(value) => void navigate({ search: { a, b: value } })} />
    </div>
  )
}

function Told({ told: { a, b, difference, applied, notes } }: { readonly told: TuneDifference }): ReactNode {
  return (
    <>
      {notes.length === 0 ? null : (
        <section className="notice notice-failed">
          {notes.map((note) => (
            <p key={note}>{note}</p>
          ))}
        </section>
      )}
      {applied === null ? (
        difference.groups.map(({ name, rows }) => (
          <section key={name} className="sheet">
            <h2>{name}</h2>
            <DifferenceTable label={`${name}: what differs`} nameA={difference.nameA} nameB={difference.nameB} rows={rows} all={difference.groups.flatMap((group) => group.rows)} />
          </section>
        ))
      ) : (
        <>
          {applied.otherwise.length === 0 ? null : (
            <section className="sheet">
              <h2>Asked and not applied</h2>
              <DifferenceTable label="Asked and not applied" nameA="asked" nameB="in force" rows={applied.otherwise} />
            </section>
          )}
          {applied.autos.length === 0 ? null : (
            <section className="sheet">
              <h2>What auto came to</h2>
              <ul className="plain">
                {applied.autos.map(({ key, place, value, known }) => (
                  <li key={`${key} ${place}`}>
                    {key}
                    {place === '' ? '' : `, ${place}`}: <span className="figure">{value}</span> <span className="soft">{known}</span>
                  </li>
                ))}
              </ul>
            </section>
          )}
          {applied.unseen.length === 0 ? null : (
            <section className="sheet">
              <h2>Asked for, and nobody looked</h2>
              <p>{applied.unseen.map(({ key, place, asked }) => `${key}${place === '' ? '' : `, ${place}`} (${asked})`).join('; ')}</p>
            </section>
          )}
          {applied.besides === 0 ? null : <p className="soft">{counted(applied.besides, 'setting')} in force that the tune does not speak of.</p>}
        </>
      )}
      <p className="soft">
        {difference.same === 0 ? 'Nothing is the same on both sides.' : `${counted(difference.same, 'setting')} ${difference.same === 1 ? 'is' : 'are'} the same on both sides.`}{' '}
        {a.is === 'tune' && b.is === 'tune' ? (
          <Link to="/tunes/compare" search={{ a: b.id, b: a.id }}>
            Turn it round
          </Link>
        ) : null}
      </p>
    </>
  )
}

function Copy({ text }: { readonly text: string }): ReactNode {
  const [state, setState] = useState<'' | 'Copied.' | 'This browser did not let it be copied.'>('')
  return (
    <>
      <button type="button" className="button" onClick={() => void navigator.clipboard.writeText(text).then(() => setState('Copied.'), () => setState('This browser did not let it be copied.'))}>
        Copy as text
      </button>
      <span role="status">{state}</span>
    </>
  )
}
