// A clock for the run under way: started and stopped by hand, kept over a reload, its seconds taken over as the run's exposure.
import { useEffect, useState } from 'react'

export interface Timer {
  /** Milliseconds since 1970; null while it stands. */
  readonly since: number | null
  /** So far, or what it stopped at, as shown; null when it was not used. */
  readonly seconds: number | null
  /** The same, read this moment. */
  readonly read: () => number | null
  readonly start: () => void
  readonly stop: () => void
  /** For the next run. */
  readonly clear: () => void
}

export function useTimer(): Timer {
  const [held, setHeld] = useState(readHeld)
  const [now, setNow] = useState(() => Date.now())
  const { since, stopped } = held
  useEffect(() => {
    if (since === null) return undefined
    const tick = setInterval(() => setNow(Date.now()), TICK_MS)
    return () => clearInterval(tick)
  }, [since])
  const hold = (next: Held): void => {
    setHeld(next)
    setNow(Date.now())
    try {
      localStorage.setItem(KEY, JSON.stringify(next))
    } catch {
      // It then lasts until the page is closed.
    }
  }
  return {
    since,
    seconds: since === null ? stopped : Math.max(0, (now - since) / 1000),
    read: () => (since === null ? stopped : Math.max(0, (Date.now() - since) / 1000)),
    start: () => hold({ since: Date.now(), stopped: null }),
    stop: () => {
      if (since !== null) hold({ since: null, stopped: (Date.now() - since) / 1000 })
    },
    clear: () => {
      if (since !== null || stopped !== null) hold({ since: null, stopped: null })
    },
  }
}

/** "0:41", "1:02:03". */
export function clockText(seconds: number): string {
  const whole = Math.floor(seconds)
  const [hours, minutes, rest] = [Math.floor(whole / 3600), Math.floor(whole / 60) % 60, whole % 60]
  const tail = String(rest).padStart(2, '0')
  return hours === 0 ? `${minutes}:${tail}` : `${hours}:${String(minutes).padStart(2, '0')}:${tail}`
}

interface Held {
  readonly since: number | null
  readonly stopped: number | null
}

const KEY = 'guardband-bench.timer'
const TICK_MS = 500

function readHeld(): Held {
  try {
    const held = JSON.parse(localStorage.getItem(KEY) ?? '{}') as { readonly since?: unknown; readonly stopped?: unknown }
    return { since: typeof held.since === 'number' ? held.since : null, stopped: typeof held.stopped === 'number' ? held.stopped : null }
  } catch {
    return { since: null, stopped: null }
  }
}
