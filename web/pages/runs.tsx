// Runs: a paged ledger with filters, all in the address; several are chosen and set aside, or brought back, by a person with one reason.
import { useCallback, useMemo, useState, type ReactNode } from 'react'
import { getRouteApi, Link, useNavigate } from '@tanstack/react-router'
import type { RunRow } from '@guardband/model/api'
import { counted, fixed } from '@guardband/model/figures'
import { useAnswer, useHub } from '../hub/queries.ts'
import { Page } from '../shell/page.tsx'
import { Empty, Loaded } from '../shell/states.tsx'
import { KeepRuns } from './keep-runs.tsx'
import { RunLedger, type RunChoice } from './run-ledger.tsx'
import { filterInput, isFiltered, type RunFilter, type RunsSearch } from './run-filter.ts'
import { RunFilters } from './run-filters.tsx'

const route = getRouteApi('/runs')

export function RunsPage(): ReactNode {
  const search = route.useSearch()
  const lab = useHub('lab')
  const counts = lab.data?.counts
  return (
    <Page
      crumbs={[{ text: 'Runs' }]}
      name="Runs"
      headline={counts === undefined ? 'Runs' : counts.runs === 0 ? 'No runs yet.' : `${counted(counts.runs, 'run')} in ${counted(counts.starts, 'start')}${failedText(counts.failedRuns)}.`}
      meta={counts?.runs === 0 ? undefined : <Ways />}
    >
      <Loaded query={lab} what="the runs">
        {(info) => (info.counts.runs === 0 ? <NoRuns /> : search.of !== undefined && search.caution !== undefined ? <CautionRuns id={search.of} code={search.caution} from={search.from ?? 0} /> : <FilteredRuns search={search} />)}
      </Loaded>
    </Page>
  )
}

function failedText(failed: number): string {
  return failed === 0 ? '; none failed' : `; ${fixed(failed, 0)} failed`
}

function Ways(): ReactNode {
  return (
    <>
      <Link className="button button-main" to="/runs/enter">
        Enter runs
      </Link>
      <Link className="button" to="/runs/take">
        Take in a table
      </Link>
    </>
  )
}

function NoRuns(): ReactNode {
  return (
    <Empty>
      <p>Enter them by hand as they happen, take in a table that you have, or let a rig record them; its journal brings them here.</p>
      <div className="buttons">
        <Ways />
      </div>
    </Empty>
  )
}

/** The runs that a caution of an answer rests on. */
function CautionRuns({ id, code, from }: { readonly id: string; readonly code: string; readonly from: number }): ReactNode {
  const answer = useAnswer(id)
  const caution = answer.data?.answer?.cautions.find((candidate) => candidate.code === code)
  const records = caution?.records ?? []
  const runs = useHub('runs', { input: { ids: records.join(','), from, count: PAGE }, ...(records.length === 0 ? { skip: true } : {}) })
  return (
    <>
      <p className="notice">
        {caution === undefined ? 'Runs behind a caution of an answer. ' : `Runs behind the caution "${caution.title}". `}
        <Link to="/questions/$id" params={{ id }}>
          Back to the answer
        </Link>{' '}
        or{' '}
        <Link to="/runs" search={{}}>
          see all runs
        </Link>
      </p>
      {answer.data === undefined ? (
        <Loaded query={answer} what="the answer">
          {() => null}
        </Loaded>
      ) : answer.data.answer === null ? (
        <p>The answer is being computed anew; its page says more.</p>
      ) : records.length === 0 ? (
        <p>{caution === undefined ? 'The answer no longer carries this caution.' : 'This caution rests on no single runs.'}</p>
      ) : (
        <Loaded query={runs} what="the runs">
          {(reply) =>
            reply.total === 0 ? (
              <p>{counted(records.length, 'start')} without a run: nothing was measured there.</p>
            ) : (
              <RunsWithActs rows={reply.rows} search={{ of: id, caution: code, from }} total={reply.total} />
            )
          }
        </Loaded>
      )}
    </>
  )
}

function FilteredRuns({ search }: { readonly search: RunsSearch }): ReactNode {
  const { from = 0, of: _question, caution: _code, ...filter } = search
  const page = useHub('runs', { input: { from, count: PAGE, ...filterInput(filter) } })
  return (
    <>
      <RunFilters filter={filter} />
      <Loaded query={page} what="the runs">
        {(reply) => (
          <>
            {isFiltered(filter) ? <Found total={reply.total} /> : null}
            {reply.rows.length === 0 ? null : <RunsWithActs rows={reply.rows} search={{ ...filter, from }} total={reply.total} />}
          </>
        )}
      </Loaded>
    </>
  )
}

function Found({ total }: { readonly total: number }): ReactNode {
  return (
    <p className="soft" role="status">
      {total === 0 ? (
        <>
          No run matches.{' '}
          <Link to="/runs" search={{}}>
            See all runs
          </Link>
        </>
      ) : (
        `${counted(total, 'run')} found.`
      )}
    </p>
  )
}

function RunsWithActs({ rows, search, total }: { readonly rows: readonly RunRow[]; readonly search: RunFilter & { readonly of?: string; readonly caution?: string; readonly from: number }; readonly total: number }): ReactNode {
  const navigate = useNavigate()
  const [chosen, setChosen] = useState<ReadonlyMap<string, RunRow>>(new Map())
  const { from } = search
  const pageAt = useCallback((at: number): RunsSearch => ({ ...search, from: at > 0 ? at : undefined }), [search])
  const choice = useMemo<RunChoice>(
    () => ({
      chosen: new Set(chosen.keys()),
      onChoose: (more, to) => {
        const next = new Map(chosen)
        for (const row of more) if (to === 'chosen') next.set(row.id, row)
        else next.delete(row.id)
        setChosen(next)
      },
      onOpen: (row) => void navigate({ to: '/runs/$id', params: { id: row.id } }),
      onBeyond: (way) => {
        const at = way === 'on' ? from + PAGE : Math.max(0, from - PAGE)
        if (at !== from && at < total) void navigate({ to: '/runs', search: pageAt(at) })
      },
    }),
    [chosen, from, navigate, pageAt, total],
  )
  return (
    <>
      <KeepRuns chosen={[...chosen.values()]} rows={rows} onChoose={choice.onChoose} onDone={() => setChosen(new Map())} />
      <RunLedger rows={rows} choice={choice} />
      <Pager pageAt={pageAt} from={from} shown={rows.length} total={total} />
    </>
  )
}

function Pager({ pageAt, from, shown, total }: { readonly pageAt: (from: number) => RunsSearch; readonly from: number; readonly shown: number; readonly total: number }): ReactNode {
  if (total <= PAGE && from === 0) return null
  return (
    <nav className="pager" aria-label="Pages of runs">
      {from > 0 ? (
        <Link to="/runs" search={pageAt(from - PAGE)}>
          Previous {PAGE}
        </Link>
      ) : null}
      <span className="figure">
        {fixed(Math.min(from + 1, total), 0)}-{fixed(from + shown, 0)} of {fixed(total, 0)}
      </span>
      {from + shown < total ? (
        <Link to="/runs" search={pageAt(from + PAGE)}>
          Next {PAGE}
        </Link>
      ) : null}
      {from + PAGE * FAR < total ? (
        <Link to="/runs" search={pageAt(Math.floor((total - 1) / PAGE) * PAGE)}>
          Oldest
        </Link>
      ) : null}
    </nav>
  )
}

const PAGE = 100
/** Pages from the end from which a way straight to it is worth a link. */
const FAR = 3
