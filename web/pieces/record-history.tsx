// What became of one record: entries of the change log, newest first, with what each changed in words.
import { useState, type ReactNode } from 'react'
import { Link } from '@tanstack/react-router'
import type { HistoryEntry } from '@guardband/model/api'
import { counted } from '@guardband/model/figures'
import { useHub } from '../hub/queries.ts'
import { Loaded } from '../shell/states.tsx'
import { Differences } from './differences.tsx'
import { When } from './when.tsx'

export function RecordHistory({ id }: { readonly id: string }): ReactNode {
  const [count, setCount] = useState(FIRST)
  const history = useHub('history', { params: { id }, input: { count } })
  return (
    <section className="history">
      <h2>History</h2>
      <Loaded query={history} what="the history">
        {({ entries, total }) => (
          <>
            <ol className="history-entries">
              {entries.map((entry) => (
                <Entry key={entry.change.seq} entry={entry} />
              ))}
            </ol>
            {entries.length < total && count < MOST ? (
              <button type="button" className="button-quiet" onClick={() => setCount(MOST)}>
                Earlier entries ({counted(Math.min(total, MOST) - entries.length, 'more', 'more')})
              </button>
            ) : null}
            {entries.length < total && count === MOST ? <p className="soft">The last {MOST} of {counted(total, 'entry', 'entries')}.</p> : null}
          </>
        )}
      </Loaded>
    </section>
  )
}

function Entry({ entry: { change, became, differences, more } }: { readonly entry: HistoryEntry }): ReactNode {
  const undone = change.undoneBy !== undefined
  return (
    <li className={undone ? 'quiet' : undefined}>
      <p className="history-what">
        {change.what}
        {undone ? <span className="soft"> (undone by entry {change.undoneBy})</span> : null}
      </p>
      {change.why === undefined || change.why === '' ? null : <p className="history-why">Why: {change.why}</p>}
      <Differences differences={differences} more={more} />
      <p className="history-who">
        {became === 'changed' ? '' : `${became === 'made' ? 'Made' : 'Taken out'}, `}
        {change.who}, <When at={change.at} />,{' '}
        <Link to="/lab/changes" search={{ before: change.seq + 1 }}>
          entry {change.seq}
        </Link>
      </p>
    </li>
  )
}

const FIRST = 10
/** As the route allows. */
const MOST = 200
