// Bench: what is open and what would settle it, what was recorded last, what changed.
import type { ReactNode } from 'react'
import { Link } from '@tanstack/react-router'
import type { LabInfo, QuestionRow } from '@guardband/model/api'
import type { ToDo } from '@guardband/model/api/runs'
import { counted } from '@guardband/model/figures'
import { keepTogether } from '@guardband/questions/visible-text'
import { useLiveRigs } from '../hub/live-rigs.ts'
import { useHub } from '../hub/queries.ts'
import { NewLabButton } from '../pieces/new-lab.tsx'
import { When } from '../pieces/when.tsx'
import { MarginNote, Page } from '../shell/page.tsx'
import { Loaded } from '../shell/states.tsx'
import { NeedsPerson, nextSentence, OpenSheets } from './bench-next.tsx'
import { FirstSteps } from './first-steps.tsx'
import { LiveNews } from './live/live-news.tsx'
import { liveSentence } from './live/live-sentence.ts'
import { LiveStrip } from './live/live-strip.tsx'
import { benchSentence, cheapestFirst, isOpen } from './open-questions.ts'
import { QuestionList } from './question-list.tsx'
import { RunLedger } from './run-ledger.tsx'

export function BenchPage(): ReactNode {
  const lab = useHub('lab')
  const questions = useHub('questions')
  const todo = useHub('toDo')
  const live = useLiveRigs()
  const asks = (live.data?.rigs ?? []).some(({ state }) => state.ask !== null)
  const atWork = liveSentence(live.data?.rigs ?? [])
  const rows = questions.data?.rows
  const counts = lab.data?.counts
  const isBare = counts !== undefined && counts.runs === 0 && counts.questions === 0
  const isNew = counts !== undefined && counts.questions === 0
  return (
    <Page
      crumbs={[{ text: 'Bench' }]}
      name="Bench"
      headline={asks ? atWork : isBare && todo.data?.sheets.length === 0 ? atWork || bareSentence(counts) : rows === undefined || todo.data === undefined ? 'Bench' : keepTogether(sumUp(todo.data, rows))}
      meta={lab.data === undefined || isBare ? undefined : <BenchBasis info={lab.data} />}
      margin={
        <>
          {todo.data === undefined || isBare ? null : <NeedsPerson todo={todo.data} />}
          <BenchMargin info={lab.data} />
        </>
      }
    >
      <LiveNews rigs={live.data?.rigs} />
      <LiveStrip sight={live.data} />
      <Loaded query={lab} what="the workspace">
        {(info) => (
          <>
            {todo.data === undefined ? null : <OpenSheets sheets={todo.data.sheets} />}
            {isNew ? (
              <FirstSteps info={info} />
            ) : (
              <Loaded query={questions} what="the questions">
                {(reply) => <OpenAndSettled rows={reply.rows} />}
              </Loaded>
            )}
          </>
        )}
      </Loaded>
      {isBare ? null : <RecordedLast total={lab.data?.counts.runs ?? 0} />}
    </Page>
  )
}

/** What is next by hand comes first; that nothing was asked yet is no news beside it. */
function sumUp(todo: ToDo, rows: readonly QuestionRow[]): string {
  const next = nextSentence(todo)
  return next === '' ? benchSentence(rows) : rows.length === 0 ? next : `${next} ${benchSentence(rows)}`
}

function bareSentence(counts: LabInfo['counts']): string {
  return counts.samples + counts.tunes === 0 ? 'Nothing is on the bench yet.' : 'The bench is being laid out; nothing has run yet.'
}

function BenchBasis({ info }: { readonly info: LabInfo }): ReactNode {
  const { counts } = info
  return (
    <span>
      {[counted(counts.samples, 'sample'), counted(counts.rigs, 'rig'), counted(counts.starts, 'start'), `${counted(counts.runs, 'run')}${counts.failedRuns > 0 ? `, ${counts.failedRuns} failed` : ''}`].map((entry) => entry.replaceAll(' ', '\u00a0')).join('\u00a0\u00b7 ')}
    </span>
  )
}

function OpenAndSettled({ rows }: { readonly rows: readonly QuestionRow[] }): ReactNode {
  const open = cheapestFirst(rows.filter(isOpen))
  const settled = rows.filter((row) => !isOpen(row))
  return (
    <>
      {open.length === 0 ? null : (
        <section className="sheet">
          <h2>Open, cheapest to settle first</h2>
          <QuestionList rows={open} label="Open questions" />
        </section>
      )}
      {settled.length === 0 ? null : (
        <section className="sheet">
          <h2>Settled</h2>
          <QuestionList rows={settled} label="Settled questions" />
        </section>
      )}
    </>
  )
}

function RecordedLast({ total }: { readonly total: number }): ReactNode {
  const runs = useHub('runs', { input: { from: 0, count: LAST_RUNS } })
  return total === 0 ? null : (
    <section>
      <h2>Recorded last</h2>
      <Loaded query={runs} what="the last runs">
        {(reply) => <RunLedger rows={reply.rows} />}
      </Loaded>
      <p>
        <Link to="/runs">All runs</Link>
      </p>
    </section>
  )
}

function BenchMargin({ info }: { readonly info: LabInfo | undefined }): ReactNode {
  const changes = useHub('changes', { input: { count: LAST_CHANGES } })
  return (
    <>
      {info?.lab.simulated === true ? (
        <MarginNote title="This lab is invented">
          <p>Every run in it was made by the simulated bench, to show what answers look like. Nothing here was measured.</p>
          <NewLabButton />
        </MarginNote>
      ) : null}
      {changes.data === undefined || changes.data.changes.length === 0 ? null : (
        <MarginNote title="Changed lately">
          <ul className="changes-short">
            {changes.data.changes.map((change) => (
              <li key={change.seq}>
                {change.what}
                <small>
                  {change.who}, <When at={change.at} />
                </small>
              </li>
            ))}
          </ul>
          <Link to="/lab/changes">
            The whole change log
          </Link>
        </MarginNote>
      )}
    </>
  )
}

const LAST_RUNS = 6
const LAST_CHANGES = 4
