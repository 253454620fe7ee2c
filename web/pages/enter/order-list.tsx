// The order drawn up, to be looked through and changed before it is saved.
import type { ReactNode } from 'react'
import type { StartHow } from '@guardband/model/records/start'
import type { Combination } from './draw-up.ts'
import type { Names } from './names.ts'

export function OrderList({ order, names, onMove, onTake, onHow }: {
  readonly order: readonly (Combination & { readonly how: StartHow })[]
  readonly names: Names
  readonly onMove: (from: number, by: -1 | 1) => void
  readonly onTake: (place: number) => void
  readonly onHow: (place: number, how: StartHow) => void
}): ReactNode {
  return (
    <details className="more">
      <summary>Order of the {order.length} starts</summary>
      <ol className="order-list">
        {order.map(({ sampleId, tuneId, how }, place) => {
          const swap = place > 0 && order[place - 1].sampleId !== sampleId
          return (
            // A place in the order has no other name; what stands in it is drawn anew when it moves.
            <li key={place} className={swap ? 'order-swap' : undefined}>
              <span>
                {place + 1}. {names.sample(sampleId)}, {names.tune(tuneId)}
                {swap ? <small>sample change</small> : null}
              </span>
              <span className="order-acts">
                <button type="button" className="button-quiet" aria-label={`Start ${place + 1} is ${how}; make it ${how === 'cold' ? 'warm' : 'cold'}`} onClick={() => onHow(place, how === 'cold' ? 'warm' : 'cold')}>
                  {how}
                </button>
                <button type="button" className="button-quiet" disabled={place === 0} aria-label={`Move start ${place + 1} up`} onClick={() => onMove(place, -1)}>
                  up
                </button>
                <button type="button" className="button-quiet" disabled={place === order.length - 1} aria-label={`Move start ${place + 1} down`} onClick={() => onMove(place, 1)}>
                  down
                </button>
                <button type="button" className="button-quiet" aria-label={`Take start ${place + 1} off`} onClick={() => onTake(place)}>
                  off
                </button>
              </span>
            </li>
          )
        })}
      </ol>
    </details>
  )
}
