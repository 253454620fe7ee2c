// The whole sheet, a line a start: done, begun, to do, left out.
import type { ReactNode } from 'react'
import type { BenchState } from '@guardband/model/api/phone'
import type { SheetProgress, SheetStartProgress } from '@guardband/model/sheet'
import type { Sheet } from '@guardband/model/records/sheet'
import { placeOf, sampleName, tuneName } from './bench-names.ts'

export function StartList({ state, sheet, progress }: { readonly state: BenchState; readonly sheet: Sheet; readonly progress: SheetProgress }): ReactNode {
  return (
    <details className="starts">
      <summary>{progress.starts.length === 1 ? 'The whole sheet: 1 start' : `All ${progress.starts.length} starts`}</summary>
      <ol>
        {progress.starts.map((start) => (
          <li key={start.planned.startId} aria-current={start.planned === progress.next?.planned ? 'step' : undefined}>
            <span className="place">{placeOf(sheet, start.planned)}</span>
            <span>
              {tuneName(state, start.planned.tuneId)}
              <small>{start.planned.slots.map(({ sampleId }) => sampleName(state, sampleId)).join(' · ')}</small>
            </span>
            <span className="how">{howFar(start)}</span>
          </li>
        ))}
      </ol>
    </details>
  )
}

function howFar({ state, start, done, of }: SheetStartProgress): string {
  if (start !== undefined && start.result !== 'started') return start.result
  return state === 'begun' ? `${done} of ${of} runs` : state
}
