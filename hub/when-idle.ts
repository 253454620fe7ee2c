// Does one piece of work that nobody waits for, once the hub has nothing else to do: after the first page has been served, or when nobody comes.
import type { MiddlewareHandler } from 'hono'

export interface WhenIdle {
  /** Sees every request, so that the work does not compete with one. */
  readonly watch: MiddlewareHandler
  /** The hub listens: from now on it may be idle. */
  readonly begin: () => void
  readonly cancel: () => void
}

/** No request for this long. */
export const QUIET_MS = 250
/** The browser that the address was handed to is still starting; its first requests should find the machine free. */
export const FIRST_MS = 1500

export function createWhenIdle(work: () => void): WhenIdle {
  let timer: NodeJS.Timeout | undefined
  let underWay = 0
  let over = false
  const set = (milliseconds: number): void => {
    clearTimeout(timer)
    if (over || underWay > 0) return
    timer = setTimeout(() => {
      over = true
      work()
    }, milliseconds)
    timer.unref()
  }
  return {
    watch: async (_c, next) => {
      underWay += 1
      clearTimeout(timer)
      try {
        await next()
      } finally {
        underWay -= 1
        set(QUIET_MS)
      }
    },
    begin: () => set(FIRST_MS),
    cancel: () => {
      over = true
      clearTimeout(timer)
    },
  }
}
