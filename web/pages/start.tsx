// One start: what was asked and what held from when to when, its memory training and conditions, what sat in the rig, and its runs.
import { useState, type ReactNode } from 'react'
import { getRouteApi, Link } from '@tanstack/react-router'
import type { StartWhole } from '@guardband/model/api/runs'
import { counted } from '@guardband/model/figures'
import { settingText } from '@guardband/model/records/tune'
import { useHub } from '../hub/queries.ts'
import { EvidenceShelf } from '../pieces/evidence-shelf.tsx'
import { Ledger, type LedgerColumn } from '../pieces/ledger.tsx'
import { RecordHistory } from '../pieces/record-history.tsx'
import { ClockTime, When } from '../pieces/when.tsx'
import { MarginNote, Page } from '../shell/page.tsx'
import { Loaded } from '../shell/states.tsx'
import { EditStart } from './edit-start.tsx'
import { RunLedger } from './run-ledger.tsx'
import { ConditionFacts, inForceText, startClockText, trainingText } from './start-facts.tsx'

const route = getRouteApi('/starts/$id')

export function StartPage(): ReactNode {
  const { id } = route.useParams()
  const query = useHub('start', { params: { id } })
  const whole = query.data?.start.id === id ? query.data : undefined
  return (
    <Page
      crumbs={[{ text: 'Runs', to: '/runs' }, { text: whole?.label ?? 'A start' }]}
      name={whole?.label ?? 'Start'}
      headline={whole === undefined ? 'A start' : startSentence(whole)}
      meta={
        whole === undefined ? undefined : (
          <span>
            {whole.rig}
            {whole.start.at === undefined ? null : (
              <>
                {' \u00b7 '}
                <When at={whole.start.at} />
              </>
            )}{' '}
            {'\u00b7'} {counted(whole.runCount, 'run')}
          </span>
        )
      }
      margin={
        <MarginNote title="Asked is not applied">
          <p>A board may clamp a value, or come up at safe settings without a word. What counts for an answer is what was in force, and how that is known.</p>
        </MarginNote>
      }
    >
      <Loaded query={query} what="the start">{() => (whole === undefined ? null : <StartLeaf whole={whole} />)}</Loaded>
    </Page>
  )
}

function startSentence({ start, slots, asked, inForce }: StartWhole): string {
  const sample = slots.find(({ slot }) => slot === 'processor') ?? slots[0]
  const kind = start.how === 'live' ? 'Live change' : `${start.how[0]?.toUpperCase() ?? ''}${start.how.slice(1)} start`
  const of = `${kind}${sample === undefined ? '' : ` of ${sample.name}`}`
  if (start.result !== 'started') return `${of}: ${start.result}${asked === null ? '' : `, asked for ${asked}`}.`
  const tunes = [...new Set(inForce.map(({ tune }) => tune))]
  if (tunes.length === 0) return `${of}: nothing is recorded of what was in force.`
  const [only] = tunes
  if (tunes.length > 1) return `${of}: ${tunes.map((tune) => tune ?? 'something unknown').join(', then ')} in force.`
  if (only === null || only === undefined) return `${of}: what was in force matches no tune${asked === null ? '' : `; asked for ${asked}`}.`
  return only === asked ? `${of}: ${only} in force as asked.` : `${of}: ${only} in force${asked === null ? '' : `, though ${asked} was asked for`}.`
}

const TO: LedgerColumn<StartWhole['inForce'][number]> = {
  header: 'to, UTC',
  align: 'number',
  render: ({ record }) => (record.to === undefined ? '' : <ClockTime at={record.to} />),
  empty: ({ record }) => record.to === undefined,
}

function StartLeaf({ whole }: { readonly whole: StartWhole }): ReactNode {
  const { start, slots, mount, inForce, runs, runCount } = whole
  const [editing, setEditing] = useState(false)
  const training = trainingText(start)
  const clock = startClockText(start)
  return (
    <>
      <section className="sheet">
        <h2>In force, from when to when</h2>
        {inForce.length === 0 ? (
          <p className="soft">Nothing was recorded of it.</p>
        ) : (
          <Ledger
            label="What was in force"
            columns={[
              { header: 'in force', render: (row) => row.tune ?? <strong>matches no tune</strong> },
              {
                header: 'known',
                render: ({ record }) => (
                  <>
                    {record.known}
                    {record.note === undefined ? null : <small className="note-lines">{record.note}</small>}
                  </>
                ),
              },
              { header: 'from, UTC', align: 'number', render: ({ record }) => (record.from === undefined ? '' : <ClockTime at={record.from} />), empty: ({ record }) => record.from === undefined },
              ...(inForce.some(({ record }) => record.to !== undefined) ? [TO] : []),
              { header: 'runs', align: 'number', render: (row) => row.runs },
            ]}
            rows={inForce}
            keyOf={({ record }) => record.id}
          />
        )}
        {inForce.map((row) =>
          row.record.settings.length === 0 ? null : (
            <details key={row.record.id} className="more">
              <summary>
                {counted(row.record.settings.length, 'setting')} of {inForceText(row)}
              </summary>
              <Ledger
                label={`Settings in force: ${inForceText(row)}`}
                columns={[
                  { header: 'setting', render: (setting) => setting.key },
                  { header: 'in force', render: (setting) => <span className="figure">{settingText(setting.value)}</span> },
                  { header: 'known', render: (setting) => setting.known },
                ]}
                rows={row.record.settings}
                keyOf={(setting) => `${setting.key}|${setting.scope.level}|${setting.scope.index ?? ''}`}
              />
            </details>
          ),
        )}
      </section>
      <section>
        <h2>Conditions</h2>
        <dl className="facts facts-two">
          <ConditionFacts conditions={start.conditions} />
          {training === '' ? null : (
            <div>
              <dt>memory training</dt>
              <dd>{training}</dd>
            </div>
          )}
          {clock === '' ? null : (
            <div>
              <dt>rig's clock</dt>
              <dd>{clock}</dd>
            </div>
          )}
          {start.note === undefined ? null : (
            <div>
              <dt>note</dt>
              <dd className="note-lines">{start.note}</dd>
            </div>
          )}
          {start.source === undefined ? null : (
            <div>
              <dt>recorded by</dt>
              <dd className="breaks">{start.source}</dd>
            </div>
          )}
        </dl>
        <div className="buttons">
          <button type="button" className="button" onClick={() => setEditing(true)}>
            Correct conditions or training
          </button>
        </div>
        {editing ? <EditStart whole={whole} onClose={() => setEditing(false)} /> : null}
      </section>
      <section>
        <h2>What sat in the rig</h2>
        <dl className="facts facts-two">
          {slots.map(({ slot, sampleId, name }) => (
            <div key={sampleId}>
              <dt>{slot}</dt>
              <dd>{name}</dd>
            </div>
          ))}
          {mount === null ? null : (
            <div>
              <dt>cooler mounted</dt>
              <dd>
                <When at={mount.at} />
                {[mount.paste, mount.torque, mount.frame, mount.lid].filter((part) => part !== undefined).map((part) => `, ${part}`)}
              </dd>
            </div>
          )}
        </dl>
      </section>
      <section>
        <h2>Its runs</h2>
        {runs.length === 0 ? <p className="soft">None: nothing was measured in it.</p> : <RunLedger rows={runs} within="one start" />}
        {runs.length < runCount ? (
          <p>
            The first {runs.length} of {runCount}. <Link to="/runs">The list of runs</Link> pages through them all.
          </p>
        ) : null}
      </section>
      <EvidenceShelf about={start.id} />
      <RecordHistory id={start.id} />
    </>
  )
}
