// Rigs at work in short, for the bench: above all what one of them asks.
import type { ReactNode } from 'react'
import { Link } from '@tanstack/react-router'
import { asksFirst, doneText, isUnderWay, messageText, STATE_WORDS } from '../../pieces/live-words.ts'
import type { LiveSight } from '../../hub/live-rigs.ts'
import { AtNow } from './at-now.tsx'
import { Heard } from '../../pieces/moving-time.tsx'
import { RigAsk } from './rig-ask.tsx'

/** Nothing where no rig is at work; one that stopped before its end is told of, since only a person gets it going again. */
export function LiveStrip({ sight }: { readonly sight: LiveSight | undefined }): ReactNode {
  const rigs = asksFirst(sight?.rigs ?? []).filter((rig) => isUnderWay(rig) || rig.state.state === 'stopped')
  if (sight === undefined || rigs.length === 0) return null
  return (
    <section className="sheet live-strip" aria-label="Rigs at work">
      <ul>
        {rigs.map((rig) => (
          <li key={rig.device.id} className={rig.state.ask === null ? undefined : 'live-asks'}>
            <h2 className="with-side" id={`live-${rig.device.id}`} tabIndex={-1}>
              <Link to="/rigs" className="plain-link">
                {rig.state.rig} {STATE_WORDS[rig.state.state]}
              </Link>
              <small className="side">
                <Heard rig={rig} ahead={sight.ahead} />
              </small>
            </h2>
            <RigAsk rig={rig} />
            <AtNow rig={rig} ahead={sight.ahead} />
            {messageText(rig) === null ? null : <p>{messageText(rig)}</p>}
            <p className="soft">
              {rig.state.plan.title}: {doneText(rig)}.
            </p>
          </li>
        ))}
      </ul>
    </section>
  )
}
