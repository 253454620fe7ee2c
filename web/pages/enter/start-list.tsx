// The sheet's starts in order: what is done, what is begun, what is still to do.
import type { ReactNode } from 'react'
import { Link } from '@tanstack/react-router'
import type { SheetProgress } from '@guardband/model/sheet'
import type { Names } from './names.ts'

/** Only the list scrolls; the page stays where it is. */
function bringIntoSight(entry: HTMLElement | null): void {
  const list = entry?.parentElement
  if (entry === null || list == null) return
  const below = entry.offsetTop - list.offsetTop
  if (below < list.scrollTop || below + entry.offsetHeight > list.scrollTop + list.clientHeight) list.scrollTop = below - list.clientHeight / 3
}

export function StartList({ sheetId, progress, shown, names, stuck }: { readonly sheetId: string; readonly progress: SheetProgress; readonly shown: string; readonly names: Names; /** Of these an entry was refused, or waits for one that was. */ readonly stuck: ReadonlySet<string> }): ReactNode {
  return (
    <nav aria-label="Starts of this sheet">
      <ol className="start-list">
        {progress.starts.map(({ planned, start, state, done, of }, place) => (
          <li key={planned.startId} ref={planned.startId === shown ? bringIntoSight : undefined} className={`start-${state.replaceAll(' ', '-')}`}>
            <Link to="/runs/enter" search={{ sheet: sheetId, start: planned.startId }} aria-current={planned.startId === shown ? 'step' : undefined}>
              {place + 1}. {names.start(planned)}
            </Link>{' '}
            <span className="soft">{state === 'begun' || (state === 'done' && done < of) ? `${start?.result === 'started' ? '' : `${start?.result ?? ''}, `}${done} of ${of}` : state}</span>
            {stuck.has(planned.startId) ? <b className="start-stuck"> not saved</b> : null}
          </li>
        ))}
      </ol>
    </nav>
  )
}
