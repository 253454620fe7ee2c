// Times that move by themselves, each in an element of its own so that nothing else on the page is drawn again.
import { useEffect, useState, type ReactNode } from 'react'
import type { LiveRig } from '@guardband/model/api/live'
import { elapsedText, heardText, hubTime } from './live-words.ts'

/** How long the step has been going on. */
export function Elapsed({ rig, since, ahead }: { readonly rig: LiveRig; readonly since: string; readonly ahead: number }): ReactNode {
  const now = useNow()
  return <span className="figure">{elapsedText((now + ahead - hubTime(rig, since)) / 1000)}</span>
}

/** When the rig was heard last; a caution by shape and word where it is silent. */
export function Heard({ rig, ahead }: { readonly rig: LiveRig; readonly ahead: number }): ReactNode {
  const { text, silent } = heardText(rig, useNow() + ahead)
  return silent ? (
    <strong className="silent">
      <span aria-hidden="true">! </span>
      {text}
    </strong>
  ) : (
    <span>{text}</span>
  )
}

function useNow(): number {
  const [now, setNow] = useState(() => Date.now())
  useEffect(() => {
    const tick = setInterval(() => setNow(Date.now()), TICK_MS)
    return () => clearInterval(tick)
  }, [])
  return now
}

const TICK_MS = 1000
