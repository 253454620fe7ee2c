// The conditions of a rig's last start, which carry forward, and its timeline.
import type { ReactNode } from 'react'
import type { RigRow, RigWhole } from '@guardband/model/api'
import { counted, fixed } from '@guardband/model/figures'
import { useHub } from '../../hub/queries.ts'
import { Day } from '../../pieces/when.tsx'
import { Loaded } from '../../shell/states.tsx'
import { CONDITION_FIELDS, conditionText } from '../start-facts.tsx'
import { mountText } from './mount-dialog.tsx'
import { rigEvents, type RigEvent } from './timeline.ts'

export function RigPast({ row }: { readonly row: RigRow }): ReactNode {
  const whole = useHub('rig', { params: { id: row.rig.id } })
  return (
    <Loaded query={whole} what="what happened on it">
      {(reply) => (
        <>
          {reply.last === null ? null : <LastConditions last={reply.last} />}
          <Timeline row={row} whole={reply} />
        </>
      )}
    </Loaded>
  )
}

/** What a person should know before they believe its record. */
export function RigCautions({ id }: { readonly id: string }): ReactNode {
  const whole = useHub('rig', { params: { id } })
  return (whole.data?.cautions ?? []).map((caution) => (
    <p key={caution} className="questioned">
      {caution}
    </p>
  ))
}

function LastConditions({ last }: { readonly last: NonNullable<RigWhole['last']> }): ReactNode {
  const facts = CONDITION_FIELDS.flatMap(({ key, label, unit }) => (last.conditions[key] === undefined ? [] : [{ term: label, text: conditionText(last.conditions[key], unit) }]))
  return (
    <>
      <h3>Conditions of the last start</h3>
      <p className="soft">{last.label}. They hold for the next start as well until somebody says what changed.</p>
      {facts.length === 0 ? (
        <p>None were entered.</p>
      ) : (
        <dl className="facts">
          {facts.map(({ term, text }) => (
            <div key={term}>
              <dt>{term}</dt>
              <dd className="breaks">{text}</dd>
            </div>
          ))}
        </dl>
      )}
    </>
  )
}

function Timeline({ row, whole }: { readonly row: RigRow; readonly whole: RigWhole }): ReactNode {
  const events = rigEvents(row, whole.starts)
  const untimed = whole.starts.filter(({ at }) => at === null).length
  const earlier = whole.total - whole.starts.length
  return (
    <>
      <h3>What happened on it</h3>
      <ol className="timeline">
        {events.map((event) => (
          <li key={event.id} className={`event event-${event.what}`}>
            <span className="event-at">
              <Day at={event.at} />
            </span>
            <div>
              <EventWords event={event} />
            </div>
          </li>
        ))}
      </ol>
      {untimed === 0 ? null : <p className="soft">{counted(untimed, 'start')} without a time can't be placed here.</p>}
      {earlier <= 0 ? null : <p className="soft">The last {fixed(whole.starts.length, 0)} of {fixed(whole.total, 0)} starts are shown.</p>}
    </>
  )
}

function EventWords({ event }: { readonly event: RigEvent }): ReactNode {
  if (event.what === 'mount') return <p>Cooler mounted{mountText(event.mount) === '' ? '' : `: ${mountText(event.mount)}`}.</p>
  if (event.what === 'starts') {
    return (
      <p>
        {event.starts === 1 ? event.label : counted(event.starts, 'start')}: {counted(event.runs, 'run')}
        {event.failed === 0 ? '' : `, ${fixed(event.failed, 0)} failed`}
        {event.notUp === 0 ? '' : `; ${event.notUp === 1 && event.starts === 1 ? 'it' : fixed(event.notUp, 0)} did not come up as asked`}.
      </p>
    )
  }
  if (event.first) return <p>First known assembly: {event.in.length === 0 ? 'nothing in it' : event.in.map(({ slot, name }) => `${name} as ${slot}`).join(', ')}.</p>
  return (
    <>
      {event.in.map(({ slot, name }) => {
        const gone = event.out.find((other) => other.slot === slot)
        return (
          <p key={`in|${slot}|${name}`}>
            {slot}: {name} in{gone === undefined ? '' : ` place of ${gone.name}`}.
          </p>
        )
      })}
      {event.out
        .filter(({ slot }) => !event.in.some((other) => other.slot === slot))
        .map(({ slot, name }) => (
          <p key={`out|${slot}|${name}`}>
            {slot}: {name} taken out.
          </p>
        ))}
      {event.in.length + event.out.length === 0 ? <p>Entered again as it was.</p> : null}
    </>
  )
}
