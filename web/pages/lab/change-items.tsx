// The records of one change, unfolded below its entry: what became of each, in words, some at a time.
import { useState, type ReactNode } from 'react'
import { counted, fixed } from '@guardband/model/figures'
import { useHub } from '../../hub/queries.ts'
import { Differences } from '../../pieces/differences.tsx'
import { Loaded } from '../../shell/states.tsx'

export function ChangeItems({ seq }: { readonly seq: number }): ReactNode {
  const [from, setFrom] = useState(0)
  const reply = useHub('changeItems', { params: { seq: String(seq) }, input: { from, count: PAGE } })
  return (
    <Loaded query={reply} what={`entry ${seq}`}>
      {({ items, total }) => (
        <>
          <ul className="change-items" aria-label={`Records of entry ${seq}`}>
            {items.map((item) => (
              <li key={item.id}>
                {item.name}
                <small>
                  {item.became}
                  {item.here || item.became === 'taken out' ? '' : '; not here any more'}
                </small>
                <Differences differences={item.differences} more={item.more} />
              </li>
            ))}
          </ul>
          {total <= PAGE ? null : (
            <div className="pager">
              {from === 0 ? null : (
                <button type="button" className="button-quiet" onClick={() => setFrom(from - PAGE)}>
                  Previous {PAGE}
                </button>
              )}
              <span className="figure">
                {fixed(from + 1, 0)}-{fixed(Math.min(from + PAGE, total), 0)} of {counted(total, 'record')}
              </span>
              {from + PAGE >= total ? null : (
                <button type="button" className="button-quiet" onClick={() => setFrom(from + PAGE)}>
                  Next {PAGE}
                </button>
              )}
            </div>
          )}
        </>
      )}
    </Loaded>
  )
}

const PAGE = 50
