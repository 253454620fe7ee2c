// One run whole: what it measured, where it stands in its start, what held around it, and what is made of it.
import { useState, type ReactNode } from 'react'
import { getRouteApi, Link } from '@tanstack/react-router'
import type { RunWhole, StartWhole } from '@guardband/model/api/runs'
import { exact, fixed } from '@guardband/model/figures'
import type { Run } from '@guardband/model/records/run'
import { unitText } from '@guardband/model/units'
import { useHub } from '../hub/queries.ts'
import { readingText } from '../pieces/amounts.ts'
import { EvidenceShelf } from '../pieces/evidence-shelf.tsx'
import { OutcomeMark } from '../pieces/outcome-mark.tsx'
import { RecordHistory } from '../pieces/record-history.tsx'
import { When } from '../pieces/when.tsx'
import { MarginNote, Page } from '../shell/page.tsx'
import { Loaded } from '../shell/states.tsx'
import { CorrectRun } from './correct-run.tsx'
import { KeepDialog } from './keep-runs.tsx'
import { RunLedger } from './run-ledger.tsx'
import { ConditionFacts, inForceText, trainingText } from './start-facts.tsx'

const route = getRouteApi('/runs/$id')

export function RunPage(): ReactNode {
  const { id } = route.useParams()
  const query = useHub('run', { params: { id } })
  const whole = query.data?.run.id === id ? query.data : undefined
  const startId = whole?.run.startId
  const start = useHub('start', startId === undefined ? { skip: true } : { params: { id: startId } })
  const startWhole = start.data?.start.id === startId ? start.data : undefined
  return (
    <Page
      crumbs={[{ text: 'Runs', to: '/runs' }, { text: whole === undefined ? 'A run' : whole.row.workload }]}
      name={whole === undefined ? 'Run' : `${whole.row.workload}, ${whole.row.sample}`}
      headline={whole === undefined ? 'A run' : runSentence(whole)}
      meta={
        whole === undefined ? undefined : (
          <span>
            Run {whole.place} of {whole.of} in{' '}
            <Link to="/starts/$id" params={{ id: whole.run.startId }}>
              {whole.row.startLabel}
            </Link>
            {whole.row.at === null || whole.row.startLabel.endsWith(' UTC') ? null : (
              <>
                {' \u00b7 '}
                <When at={whole.row.at} />
              </>
            )}
          </span>
        )
      }
      margin={whole === undefined ? undefined : <RunMargin whole={whole} />}
    >
      <Loaded query={query} what="the run">
        {() =>
          whole === undefined ? null : (
            <>
              <Measured whole={whole} />
              <Around whole={whole} />
              {startWhole === undefined ? null : <ItsStart start={startWhole} run={whole.run} />}
              <EvidenceShelf about={whole.run.id} />
              <RecordHistory id={whole.run.id} />
            </>
          )
        }
      </Loaded>
    </Page>
  )
}

function runSentence({ run, row }: RunWhole): string {
  const readings = row.measures.map((measure) => (row.measures.length === 1 ? readingText(measure.value, measure.unit) : `${measure.name} ${readingText(measure.value, measure.unit)}`))
  const ending = run.outcome === 'scored' && readings.length > 0 ? [] : [`${run.outcome}${run.phase === undefined ? '' : IN_PHASE[run.phase]}`]
  return `${row.sample} ran ${row.workload}: ${[...ending, ...readings].join(', ')}${run.setAside === undefined ? '' : '; set aside'}.`
}

const IN_PHASE = { 'start-up': ' at start-up', light: ' under light load', heavy: ' under heavy load', transition: ' as the load changed', idle: ' at idle', resume: ' on resume' } as const

function Measured({ whole }: { readonly whole: RunWhole }): ReactNode {
  const { run, row } = whole
  const [open, setOpen] = useState<'correct' | 'keep' | null>(null)
  const exposure = exposureText(run)
  return (
    <section className="sheet">
      <h2>What came of it</h2>
      <dl className="facts">
        {row.measures.map((measure) => (
          <div key={measure.name}>
            <dt>{measure.name}</dt>
            <dd className="figure">{readingText(measure.value, measure.unit)}</dd>
          </div>
        ))}
        <div>
          <dt>outcome</dt>
          <dd>
            <OutcomeMark outcome={run.outcome} />
          </dd>
        </div>
        {run.phase === undefined ? null : (
          <div>
            <dt>phase</dt>
            <dd>{run.phase}</dd>
          </div>
        )}
        {run.place === undefined ? null : (
          <div>
            <dt>place</dt>
            <dd>{run.place}</dd>
          </div>
        )}
        {exposure === '' ? null : (
          <div>
            <dt>exposure</dt>
            <dd>{exposure}</dd>
          </div>
        )}
        {run.note === undefined ? null : (
          <div>
            <dt>note</dt>
            <dd className="note-lines">{run.note}</dd>
          </div>
        )}
        {run.setAside === undefined ? null : (
          <div>
            <dt>set aside</dt>
            <dd>
              {run.setAside.reason}
              <small>
                {run.setAside.by}, <When at={run.setAside.at} />
              </small>
            </dd>
          </div>
        )}
      </dl>
      <div className="buttons">
        <button type="button" className="button" onClick={() => setOpen('correct')}>
          Correct it
        </button>
        <button type="button" className="button" onClick={() => setOpen('keep')}>
          {run.setAside === undefined ? 'Set it aside' : 'Bring it back'}
        </button>
      </div>
      {open === 'correct' ? <CorrectRun whole={whole} onClose={() => setOpen(null)} /> : null}
      {open === 'keep' ? <KeepDialog act={run.setAside === undefined ? 'set aside' : 'bring back'} rows={[row]} onClose={() => setOpen(null)} onDone={() => undefined} /> : null}
    </section>
  )
}

function exposureText({ exposure }: Run): string {
  if (exposure === undefined) return ''
  const { seconds, passes, bytes } = exposure
  return [
    ...(seconds === undefined ? [] : [`${exact(seconds)} ${unitText('s')}`]),
    ...(passes === undefined ? [] : [`${exact(passes)} passes over memory`]),
    ...(bytes === undefined ? [] : [`${fixed(bytes / GIB, 1)} GiB`]),
  ].join(', ')
}

const GIB = 1024 ** 3

function Around({ whole: { run, around, of } }: { readonly whole: RunWhole }): ReactNode {
  const place = around.findIndex(({ id }) => id === run.id)
  const before = around[place - 1]
  const after = around[place + 1]
  return (
    <section>
      <h2>Before and after it</h2>
      <RunLedger rows={around} within="one start" here={run.id} />
      <nav className="pager" aria-label="Runs of this start">
        {before === undefined ? null : (
          <Link to="/runs/$id" params={{ id: before.id }}>
            The run before
          </Link>
        )}
        {after === undefined ? null : (
          <Link to="/runs/$id" params={{ id: after.id }}>
            The run after
          </Link>
        )}
        {of > around.length ? (
          <Link to="/starts/$id" params={{ id: run.startId }}>
            All {of} runs of the start
          </Link>
        ) : null}
      </nav>
    </section>
  )
}

function ItsStart({ start, run }: { readonly start: StartWhole; readonly run: Run }): ReactNode {
  const held = start.inForce.find(({ record }) => record.id === run.inForceId)
  const training = trainingText(start.start)
  return (
    <section>
      <h2>What held around it</h2>
      <dl className="facts facts-two">
        <div>
          <dt>in force</dt>
          <dd>
            {held === undefined ? 'not recorded' : inForceText(held)}
            {held?.record.note === undefined ? null : <small className="note-lines">{held.record.note}</small>}
          </dd>
        </div>
        <div>
          <dt>asked</dt>
          <dd>{start.asked ?? 'nothing in particular'}</dd>
        </div>
        <div>
          <dt>rig</dt>
          <dd>
            {start.rig}: {start.slots.map(({ name }) => name).join(', ')}
          </dd>
        </div>
        {training === '' ? null : (
          <div>
            <dt>memory training</dt>
            <dd>{training}</dd>
          </div>
        )}
        <ConditionFacts conditions={start.start.conditions} />
      </dl>
      <p>
        <Link to="/starts/$id" params={{ id: start.start.id }}>
          The whole start
        </Link>
      </p>
    </section>
  )
}

function RunMargin({ whole: { questions, run } }: { readonly whole: RunWhole }): ReactNode {
  return (
    <>
      <MarginNote title={questions.length === 0 ? 'No answer uses it' : questions.length === 1 ? 'One answer uses it' : `${questions.length} answers use it`}>
        {questions.length === 0 ? (
          <p>No question asked so far is about its sample, tune and workload.</p>
        ) : (
          <ul className="plain">
            {questions.map(({ id, title }) => (
              <li key={id}>
                <Link to="/questions/$id" params={{ id }}>
                  {title}
                </Link>
              </li>
            ))}
          </ul>
        )}
      </MarginNote>
      {run.setAside === undefined ? null : (
        <MarginNote title="Set aside">
          <p>It stays in the snapshot of each answer, marked: the answer leaves it out and says so.</p>
        </MarginNote>
      )}
    </>
  )
}
