// Search through everything: what was found by kind, best first; runs in their own list. The words stand in the address.
import { useEffect, useState, type ReactNode } from 'react'
import { getRouteApi, Link, useNavigate } from '@tanstack/react-router'
import type { Found, FoundGroup, FoundHit, FoundKind } from '@guardband/model/api'
import { counted, fixed } from '@guardband/model/figures'
import { useHub } from '../hub/queries.ts'
import { Page } from '../shell/page.tsx'
import { Loaded } from '../shell/states.tsx'
import { foundAddress } from './found-address.ts'

const route = getRouteApi('/find')

export function FindPage(): ReactNode {
  const { q = '', kind } = route.useSearch()
  const navigate = useNavigate()
  const asked = useLatest(q.trim(), kind)
  const { query } = asked
  useEffect(() => {
    document.addEventListener('keydown', walk)
    return () => document.removeEventListener('keydown', walk)
  }, [])
  return (
    <Page crumbs={[{ text: 'Find' }]} name={q === '' ? 'Find' : `Find ${q}`} headline={asked.q === '' || query.data === undefined ? 'Find' : headline(query.data, asked.q)}>
      <search className="find-field">
        <label htmlFor="find-field">Words that must all stand in it</label>
        <input
          id="find-field"
          type="search"
          maxLength={MOST_LETTERS}
          autoComplete="off"
          defaultValue={q}
          onChange={(event) => void navigate({ to: '/find', search: { q: event.currentTarget.value === '' ? undefined : event.currentTarget.value }, replace: true })}
        />
      </search>
      {asked.q === '' ? (
        <p className="soft">
          Looks through parts, samples (label, serial, batch), tunes with their settings, rigs, workloads, suites, bins, questions, reports, sheets, starts, evidence, and the notes of all of these. Runs are counted here and shown in their own list.
        </p>
      ) : (
        <Loaded query={query} what="what was found">
          {(found) => <Results found={found} q={asked.q} kind={asked.kind} />}
        </Loaded>
      )}
    </Page>
  )
}

/** What is asked of the hub: one search at a time, and after it the words as they stand by then. */
function useLatest(q: string, kind: FoundKind | undefined): { readonly q: string; readonly kind: FoundKind | undefined; readonly query: ReturnType<typeof useHub<'find'>> } {
  const [asked, setAsked] = useState({ q, kind })
  const query = useHub('find', { input: { q: asked.q, ...(asked.kind === undefined ? {} : { kind: asked.kind }) }, ...(asked.q === '' ? { skip: true as const } : {}) })
  if (!query.isFetching && (asked.q !== q || asked.kind !== kind)) setAsked({ q, kind })
  return { ...asked, query }
}

function headline({ groups, runs }: Found, q: string): string {
  const records = groups.reduce((sum, { total }) => sum + total, 0)
  if (records === 0 && runs === 0) return `Nothing holds “${q}”.`
  const parts = [...(records === 0 ? [] : [counted(records, 'record')]), ...(runs === 0 ? [] : [counted(runs, 'run')])]
  return `${parts.join(' and ')} with “${q}”.`
}

function Results({ found, q, kind }: { readonly found: Found; readonly q: string; readonly kind: FoundKind | undefined }): ReactNode {
  const words = q.toLowerCase().split(/\s+/)
  return (
    <div className="found">
      {kind === undefined ? null : (
        <p>
          Only {NAMES[kind].toLowerCase()}.{' '}
          <Link to="/find" search={{ q }}>
            Everything
          </Link>
        </p>
      )}
      {found.runs === 0 ? null : (
        <section>
          <h2>Runs</h2>
          <ul>
            <li>
              <Link to="/runs" search={{ find: q }}>
                Show {found.runs === 1 ? 'the one run' : counted(found.runs, 'run')} in the list of runs
              </Link>
            </li>
          </ul>
        </section>
      )}
      {found.groups.map((group) => (
        <Group key={group.kind} group={group} q={q} words={words} />
      ))}
      {found.groups.length === 0 && found.runs === 0 ? <p className="soft">Fewer words, or the beginning of one, find more. What was taken out is in the change log.</p> : null}
    </div>
  )
}

function Group({ group: { kind, total, hits }, q, words }: { readonly group: FoundGroup; readonly q: string; readonly words: readonly string[] }): ReactNode {
  return (
    <section>
      <h2>
        {NAMES[kind]}
        <small>{hits.length === total ? fixed(total, 0) : `${fixed(hits.length, 0)} of ${fixed(total, 0)}`}</small>
      </h2>
      <ul>
        {hits.map((hit) => (
          <Hit key={hit.id} kind={kind} hit={hit} words={words} />
        ))}
        {hits.length < total && hits.length < MOST_OF_ONE ? (
          <li>
            <Link to="/find" search={{ q, kind }}>
              Show all {fixed(total, 0)}
            </Link>
          </li>
        ) : null}
      </ul>
    </section>
  )
}

function Hit({ kind, hit, words }: { readonly kind: FoundKind; readonly hit: FoundHit; readonly words: readonly string[] }): ReactNode {
  return (
    <li>
      <Link to={foundAddress(kind, hit)}>
        <span className="found-name">
          <Marked text={hit.name} words={words} />
        </span>
        {hit.where === null ? null : (
          <span className="found-where">
            <Marked text={hit.where} words={words} />
          </span>
        )}
      </Link>
    </li>
  )
}

function Marked({ text, words }: { readonly text: string; readonly words: readonly string[] }): ReactNode {
  const pattern = new RegExp(`(${words.map((word) => word.replace(/[$()*+.?[\\\]^{|}/-]/g, '\\$&')).join('|')})`, 'gi')
  // Of a split at one group, every second piece is a match. Pieces have no other name than their place.
  return text.split(pattern).map((piece, place) => (place % 2 === 1 ? <mark key={`${place} ${piece}`}>{piece}</mark> : piece))
}

/** Arrows go from the field through what was found and back; Escape leaves the field. */
function walk(event: KeyboardEvent): void {
  const field = document.querySelector<HTMLInputElement>('#find-field')
  if (event.key === 'Escape' && event.target === field) field?.blur()
  if (event.key !== 'ArrowDown' && event.key !== 'ArrowUp') return
  const stops = [...(field === null ? [] : [field]), ...document.querySelectorAll<HTMLElement>('.found a')]
  const at = stops.findIndex((stop) => stop === document.activeElement)
  const next = stops[at + (event.key === 'ArrowDown' ? 1 : -1)]
  if (at < 0 || next === undefined) return
  event.preventDefault()
  next.focus()
}

const NAMES: Readonly<Record<FoundKind, string>> = {
  part: 'Parts', sample: 'Samples', tune: 'Tunes', rig: 'Rigs', workload: 'Workloads', suite: 'Suites', bin: 'Bins', question: 'Questions', report: 'Reports', sheet: 'Sheets', start: 'Starts', evidence: 'Evidence',
  ceiling: 'Ceilings', grade: 'Grades', 'setting kind': 'Kinds of setting', dose: 'Doses', mount: 'Mounts', campaign: 'Campaigns',
}
/** As the route gives at most. */
const MOST_OF_ONE = 200
const MOST_LETTERS = 200
