// Rigs at work in short, below what a hand is wanted for.
import { useSyncExternalStore, type ReactNode } from 'react'
import { asksFirst, doneText, isUnderWay, messageText, STATE_WORDS, stepText } from '../pieces/live-words.ts'
import { Elapsed, Heard } from '../pieces/moving-time.tsx'
import type { LiveDesk } from './live-desk.ts'

export function RigsAtWork({ live }: { readonly live: LiveDesk }): ReactNode {
  const { rigs, ahead } = useSyncExternalStore(live.listen, live.view)
  const shown = asksFirst(rigs).filter((rig) => isUnderWay(rig) || rig.state.state === 'stopped')
  if (shown.length === 0) return null
  return (
    <section className="rigs-short">
      <h2>Rigs</h2>
      <ul>
        {shown.map((rig) => {
          const { state, device } = rig
          return (
            <li key={device.id}>
              <p>
                <b>{state.rig}</b> {STATE_WORDS[state.state]} · <Heard rig={rig} ahead={ahead} />
              </p>
              {state.step === null ? null : (
                <p>
                  {stepText(rig)}, for <Elapsed rig={rig} since={state.step.since} ahead={ahead} />
                </p>
              )}
              {messageText(rig) === null ? null : <p>{messageText(rig)}</p>}
              <small>{doneText(rig)}</small>
            </li>
          )
        })}
      </ul>
    </section>
  )
}
