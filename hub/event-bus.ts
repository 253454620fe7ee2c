// Tells listeners what happened to the workspace: changes (its own or another process's), answers, and that another workspace is served now.
import type { Lab } from '@guardband/lab'
import type { HubEvent } from '@guardband/model'

export interface EventBus {
  /** Calls back for every event until the returned function is called. */
  subscribe(listener: (event: HubEvent) => void): () => void
  /** Follows another lab from now on and says so. */
  follow(lab: Lab): void
  /** Something about the rigs at work changed. */
  rigs(): void
  close(): void
}

/** Another process's change shows within this. */
export const LOOK_MS = 500
export const RIGS_MS = 250

export function createEventBus(first: Lab, say: (line: string) => void): EventBus {
  const listeners = new Set<(event: HubEvent) => void>()
  let lab = first
  let head = 0
  let timer: NodeJS.Timeout | undefined
  let stopAnswers: (() => void) | undefined

  const tell = (event: HubEvent): void => {
    for (const listener of listeners) listener(event)
  }
  let rigsTimer: NodeJS.Timeout | undefined
  let moreOfRigs = false
  /** The first at once, then at most a few a second, however many rigs speak. */
  const tellRigs = (): void => {
    moreOfRigs = rigsTimer !== undefined
    if (moreOfRigs) return
    tell({ type: 'rigs' })
    rigsTimer = setTimeout(() => {
      rigsTimer = undefined
      if (moreOfRigs) tellRigs()
    }, RIGS_MS).unref()
  }
  const look = (): void => {
    try {
      const now = lab.head()
      if (now === head) return
      head = now
      tell({ type: 'changed', head })
    } catch (error) {
      say(`hub: could not look for changes: ${error instanceof Error ? error.message : String(error)}`)
    }
  }
  const wake = (): void => {
    head = lab.head()
    timer = setInterval(look, LOOK_MS)
    timer.unref()
    stopAnswers = lab.onAnswer(({ questionId, state, progress }) => {
      tell({ type: 'answer', questionId, state, ...(progress === undefined ? {} : { progress }) })
    })
  }
  const sleep = (): void => {
    clearInterval(timer)
    stopAnswers?.()
    timer = undefined
    stopAnswers = undefined
  }

  return {
    subscribe(listener) {
      listeners.add(listener)
      if (listeners.size === 1) wake()
      return () => {
        if (listeners.delete(listener) && listeners.size === 0) sleep()
      }
    },
    follow(next) {
      if (listeners.size > 0) sleep()
      lab = next
      if (listeners.size > 0) wake()
      tell({ type: 'lab switched' })
    },
    rigs: tellRigs,
    close() {
      sleep()
      clearTimeout(rigsTimer)
      listeners.clear()
    },
  }
}
