// One rig that was heard of lately, whole: what it asks, what it is at and for how long, what is left, how its runs and crashes went.
import type { ReactNode } from 'react'
import type { LiveRig } from '@guardband/model/api'
import { clockText, doneText, hubTime, isUnderWay, messageText, STATE_WORDS } from '../../pieces/live-words.ts'
import { OutcomeMark } from '../../pieces/outcome-mark.tsx'
import { ClockTime, When } from '../../pieces/when.tsx'
import { AtNow } from './at-now.tsx'
import { Heard } from '../../pieces/moving-time.tsx'
import { RigAsk } from './rig-ask.tsx'
import { StopRig } from './stop-rig.tsx'

export function LiveRigSection({ rig, ahead }: { readonly rig: LiveRig; readonly ahead: number }): ReactNode {
  const { device, state } = rig
  const clock = clockText(rig)
  return (
    <section className={state.ask === null ? 'sheet live' : 'sheet live live-asks'} aria-labelledby={`live-${device.id}`}>
      <h2 className="with-side" id={`live-${device.id}`} tabIndex={-1}>
        <span>
          {state.rig} {STATE_WORDS[state.state]}
        </span>
        <small className="side">
          <Heard rig={rig} ahead={ahead} />
        </small>
      </h2>
      <RigAsk rig={rig} />
      <AtNow rig={rig} ahead={ahead} />
      {messageText(rig) === null ? null : <p>{messageText(rig)}</p>}
      <p className="soft">
        {state.plan.title}: {doneText(rig)}.{device.name === state.rig ? '' : ` Let in as ${device.name}.`}
      </p>
      {clock === null ? null : (
        <p className="questioned">
          {clock}
        </p>
      )}
      {isUnderWay(rig) ? <StopRig rig={rig} /> : null}
      <Last rig={rig} />
    </section>
  )
}

function Last({ rig }: { readonly rig: LiveRig }): ReactNode {
  const { last } = rig.state
  if (last.length === 0) return null
  const shown = last.map((line) => ({ ...line, at: new Date(hubTime(rig, line.at)).toISOString() }))
  return (
    <>
      <h3 className="live-last">What did not go to plan, newest first, UTC</h3>
      <ol className="timeline" aria-label={`What did not go to plan on ${rig.state.rig}`}>
        {shown.map((line) => (
          <li key={`${line.at} ${line.text}`} className="event">
            <span className="event-at figure">{isToday(line.at, shown[0]?.at) ? <ClockTime at={line.at} /> : <When at={line.at} />}</span>
            <div>
              {line.outcome === null ? null : (
                <p>
                  <OutcomeMark outcome={line.outcome} />
                </p>
              )}
              <p>{line.text}</p>
            </div>
          </li>
        ))}
      </ol>
    </>
  )
}

/** Of the day of the newest, the time is enough. */
function isToday(at: string, newest: string | undefined): boolean {
  return at.slice(0, 10) === newest?.slice(0, 10)
}
