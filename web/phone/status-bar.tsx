// Says in words whether all is saved, and what is not. "Saved" stands there only once the hub has it on disk.
import type { ReactNode } from 'react'
import type { View } from './desk.ts'

export function StatusBar({ view, answers, problem, onLeaveOut, onTryAgain }: { readonly view: View; /** Given to rigs, not yet with the hub. */ readonly answers: number; readonly problem: string | undefined; readonly onLeaveOut: () => void; readonly onTryAgain: () => void }): ReactNode {
  const { tone, text } = statusOf(view, answers)
  return (
    <div className={`status status-${tone}`}>
      <p role="status">
        <span aria-hidden="true" className="mark">{MARKS[tone]}</span> {text}
      </p>
      {problem === undefined ? null : (
        <p role="alert" className="warns">
          {problem}
        </p>
      )}
      {view.outbox.state !== 'refused' ? null : (
        <div className="refused" role="alert">
          <p>
            The hub did not take "{view.outbox.message.what}": {view.outbox.sentence}
          </p>
          <div className="pair">
            <button type="button" className="big" onClick={onTryAgain}>
              Try again
            </button>
            <button type="button" className="big" onClick={onLeaveOut}>
              Leave it out
            </button>
          </div>
        </div>
      )}
    </div>
  )
}

type Tone = 'saved' | 'waits' | 'stuck'

const MARKS: Readonly<Record<Tone, string>> = { saved: '●', waits: '◌', stuck: '!' }

export function statusOf({ waiting, outbox, hub, lastSaved }: Pick<View, 'waiting' | 'outbox' | 'hub' | 'lastSaved'>, answers: number): { readonly tone: Tone; readonly text: string } {
  const wait = waiting.length === 1 ? '1 entry waits for the hub' : `${waiting.length} entries wait for the hub`
  if (outbox.state === 'refused') return { tone: 'stuck', text: `${wait}; the first was refused.` }
  if (waiting.length > 0) {
    const silent = outbox.state === 'silent' || hub === 'silent'
    return { tone: 'waits', text: silent ? `${wait}, which is out of reach. Keep this page open; ${waiting.length === 1 ? 'it is' : 'they are'} sent when it is back.` : `${wait}.` }
  }
  if (answers > 0) return { tone: 'waits', text: `${answers === 1 ? '1 answer to a rig waits' : `${answers} answers to rigs wait`} for the hub${hub === 'silent' ? ', which is out of reach. Keep this page open' : ''}.` }
  if (hub === 'silent') return { tone: 'waits', text: 'All saved. The hub is out of reach; go on, entries wait here.' }
  return { tone: 'saved', text: lastSaved === undefined ? 'All saved.' : `Saved: ${lastSaved}` }
}
