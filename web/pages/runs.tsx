// Runs: a paged ledger with filters, all in the address; a run is set aside, or brought back, by a person with a reason.
import { useState, type ReactNode } from 'react'
import { getRouteApi, Link, useNavigate } from '@tanstack/react-router'
import type { RunRow } from '@guardband/model/api'
import { counted, fixed } from '@guardband/model/figures'
import { outcomeSchema } from '@guardband/model/records/run'
import { useAct, useAnswer, useHub } from '../hub/queries.ts'
import { ReasonDialog } from '../pieces/dialog.tsx'
import { Page } from '../shell/page.tsx'
import { Empty, Failed, Loaded } from '../shell/states.tsx'
import { RunLedger } from './run-ledger.tsx'
import { isFiltered, MOST_FIND, outcomeOf, type RunFilter } from './run-filter.ts'

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
      meta={
        counts?.runs === 0 ? undefined : (
          <>
            <Link className="button" to="/runs/take">
              Take in a file of runs
            </Link>
            <span>A run is left out of answers only when a person sets it aside and says why.</span>
          </>
        )
      }
    >
      <Loaded query={lab} what="the runs">
        {(info) => (info.counts.runs === 0 ? <NoRuns /> : search.of !== undefined && search.caution !== undefined ? <CautionRuns id={search.of} code={search.caution} from={search.from ?? 0} /> : <FilteredRuns filter={{ find: search.find, outcome: search.outcome }} from={search.from ?? 0} />)}
      </Loaded>
    </Page>
  )
}

function failedText(failed: number): string {
  return failed === 0 ? '; none failed' : `; ${fixed(failed, 0)} failed`
}

function NoRuns(): ReactNode {
  return (
    <Empty>
      <p>Take in a file of runs, or let a rig record them; its journal brings them here.</p>
      <p>
        <Link className="button button-main" to="/runs/take">
          Take in a file of runs
        </Link>
      </p>
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
              <>
                <RunsWithActs rows={reply.rows} />
                <Pager search={{ of: id, caution: code }} from={from} shown={reply.rows.length} total={reply.total} />
              </>
            )
          }
        </Loaded>
      )}
    </>
  )
}

function FilteredRuns({ filter, from }: { readonly filter: RunFilter; readonly from: number }): ReactNode {
  const { find, outcome } = filter
  const page = useHub('runs', { input: { from, count: PAGE, ...(find === undefined ? {} : { find: find.slice(0, MOST_FIND) }), ...(outcome === undefined ? {} : { outcome }) } })
  return (
    <>
      <Filters filter={filter} />
      <Loaded query={page} what="the runs">
        {(reply) => (
          <>
            {isFiltered(filter) ? <Found total={reply.total} /> : null}
            {reply.rows.length === 0 ? null : <RunsWithActs rows={reply.rows} />}
            <Pager search={filter} from={from} shown={reply.rows.length} total={reply.total} />
          </>
        )}
      </Loaded>
    </>
  )
}

function Filters({ filter }: { readonly filter: RunFilter }): ReactNode {
  const navigate = useNavigate()
  return (
    <search>
    <form className="filters" onSubmit={(event) => event.preventDefault()}>
      <label>
        Find{' '}
        <input
          type="search"
          defaultValue={filter.find ?? ''}
          maxLength={MOST_FIND}
          placeholder="workload, sample, tune, start ..."
          onChange={(event) => {
            const find = event.currentTarget.value.trim()
            void navigate({ to: '/runs', search: { ...filter, from: undefined, find: find === '' ? undefined : find }, replace: true })
          }}
        />
      </label>
      <label>
        Outcome{' '}
        <select
          value={filter.outcome ?? ''}
          onChange={(event) => {
            const outcome = outcomeOf(event.currentTarget.value)
            void navigate({ to: '/runs', search: { ...filter, from: undefined, outcome }, replace: true })
          }}
        >
          <option value="">any</option>
          <option value="failed">any failure</option>
          <option value="set aside">set aside</option>
          {outcomeSchema.options.map((outcome) => (
            <option key={outcome}>{outcome}</option>
          ))}
        </select>
      </label>
    </form>
    </search>
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

type RunsSearch = RunFilter & { readonly of?: string; readonly caution?: string }

function Pager({ search, from, shown, total }: { readonly search: RunsSearch; readonly from: number; readonly shown: number; readonly total: number }): ReactNode {
  if (total <= PAGE && from === 0) return null
  return (
    <nav className="pager" aria-label="Pages of runs">
      {from > 0 ? (
        <Link to="/runs" search={{ ...search, from: from > PAGE ? from - PAGE : undefined }}>
          Previous {PAGE}
        </Link>
      ) : null}
      <span className="figure">
        {fixed(Math.min(from + 1, total), 0)}-{fixed(from + shown, 0)} of {fixed(total, 0)}
      </span>
      {from + shown < total ? (
        <Link to="/runs" search={{ ...search, from: from + PAGE }}>
          Next {PAGE}
        </Link>
      ) : null}
    </nav>
  )
}

function RunsWithActs({ rows }: { readonly rows: readonly RunRow[] }): ReactNode {
  const [chosen, setChosen] = useState<RunRow | null>(null)
  return (
    <>
      <RunLedger rows={rows} onKeep={setChosen} />
      {chosen === null ? null : <KeepDialog row={chosen} onClose={() => setChosen(null)} />}
    </>
  )
}

function KeepDialog({ row, onClose }: { readonly row: RunRow; readonly onClose: () => void }): ReactNode {
  const setAside = useAct('setAside')
  const bringBack = useAct('bringBack')
  const away = row.setAside === null
  const act = away ? setAside : bringBack
  return (
    <ReasonDialog
      title={away ? 'Set this run aside' : 'Bring this run back'}
      explain={`${row.workload}, ${row.sample}, ${row.startLabel}. ${away ? 'It is kept and shown here; answers leave it out and say how many were. A crash is a result: it is counted, not set aside.' : `It was set aside: ${row.setAside ?? ''}`}`}
      label="Why"
      act={away ? 'Set aside' : 'Bring back'}
      busy={act.isPending}
      problem={act.isError ? <Failed error={act.error} /> : null}
      onClose={onClose}
      onReason={(reason) => act.mutate({ params: { id: row.id }, input: { reason } }, { onSuccess: onClose })}
    />
  )
}

const PAGE = 100
