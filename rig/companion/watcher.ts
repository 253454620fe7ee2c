// When a watched rig's silence counts, and what comes next: no clock, no command, only the rules.
import type { LiveState } from '@guardband/model'

export interface WatchRules {
  readonly silenceSeconds: number
  /** How long each action, in its order, is given until the rig must be heard again. */
  readonly waits: readonly number[]
  readonly mostPerHour: number
}

export type WatchStep =
  | { readonly kind: 'nothing' }
  /** It has fallen silent just now. */
  | { readonly kind: 'silence'; readonly seconds: number }
  /** The action to carry out now. */
  | { readonly kind: 'act'; readonly action: number }
  /** All has been tried, or too much within the hour. */
  | { readonly kind: 'given up'; readonly why: string }

export interface Watcher {
  /** True when it was silent until now. */
  readonly heard: (state: LiveState['state'], now: number) => boolean
  /** Looked at every second. */
  readonly look: (now: number) => WatchStep
  /** The action that was asked for has been carried out. */
  readonly acted: (now: number) => void
}

/** Times are seconds from a clock that never steps; `past` are those of actions before this program began, so that a cap holds through its restarts. */
export function createWatcher({ silenceSeconds, waits, mostPerHour }: WatchRules, past: readonly number[] = []): Watcher {
  let last: number | null = null
  let atWork = false
  let looked: number | null = null
  let silent: { next: number; waitUntil: number; over: boolean } | null = null
  const done = past.toSorted((a, b) => a - b)
  /** Until then nothing is made of silence: after a gap of its own. */
  let deafUntil = 0
  return {
    heard: (state, now) => {
      const was = silent !== null
      last = now
      // Only while it works does a heartbeat have to come: it may wait for a person or a power-on for hours.
      atWork = state === 'at work'
      silent = null
      return was
    },
    look: (now) => {
      const gap = looked === null ? 0 : now - looked
      looked = now
      // This program itself stood still: what it did not hear meanwhile says nothing about the rig.
      if (gap > OWN_GAP_SECONDS) {
        deafUntil = now + AFTER_GAP_SECONDS
        if (silent === null && last !== null) last = now
      }
      if (now < deafUntil) return { kind: 'nothing' }
      if (last === null || !atWork) return { kind: 'nothing' }
      if (silent === null) {
        if (now - last < silenceSeconds) return { kind: 'nothing' }
        silent = { next: 0, waitUntil: now, over: false }
        return { kind: 'silence', seconds: now - last }
      }
      if (silent.over || now < silent.waitUntil) return { kind: 'nothing' }
      const giveUp = (why: string): WatchStep => {
        if (silent !== null) silent.over = true
        return { kind: 'given up', why }
      }
      if (silent.next >= waits.length) return giveUp(waits.length === 0 ? 'there is nothing that this companion may do' : 'all that this companion may do has been tried')
      while (done.length > 0 && done[0] <= now - HOUR_SECONDS) done.shift()
      if (done.length >= mostPerHour) return giveUp(`it has acted ${done.length} times within an hour, and no more is allowed`)
      return { kind: 'act', action: silent.next }
    },
    acted: (now) => {
      done.push(now)
      looked = now
      if (silent === null) return
      silent.waitUntil = now + (waits[silent.next] ?? 0)
      silent.next += 1
    },
  }
}

/** A look comes every second; one that is later by this much was held up with the whole machine or process. */
const OWN_GAP_SECONDS = 10
/** A rig that could not reach this program meanwhile rests up to a minute before it tries again, and then waits some seconds for an answer. */
const AFTER_GAP_SECONDS = 75
const HOUR_SECONDS = 3600
