// The sheet's starts in order: what is done, what is begun, what is still to do.
import type { ReactNode } from 'react'
import { Link } from '@tanstack/react-router'
import type { SheetProgress } from '@guardband/model/sheet'
import type { Names } from './names.ts'

export function StartList({ sheetId, progress, shown, names }: { readonly sheetId: string; readonly progress: SheetProgress; readonly shown: string; readonly names: Names }): ReactNode {
  return (
    <nav aria-label="Starts of this sheet">
      <ol className="start-list">
        {progress.starts.map(({ planned, start, state, done, of }, place) => (
          <li key={planned.startId} className={`start-${state.replaceAll(' ', '-')}`}>
            <Link to="/runs/enter" search={{ sheet: sheetId, start: planned.startId }} aria-current={planned.startId === shown ? 'step' : undefined}>
              {place + 1}. {names.start(planned)}
            </Link>{' '}
            <span className="soft">{state === 'begun' || (state === 'done' && done < of) ? `${start?.result === 'started' ? '' : `${start?.result ?? ''}, `}${done} of ${of}` : state}</span>
          </li>
        ))}
      </ol>
    </nav>
  )
}
