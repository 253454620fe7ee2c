// `/api/events`: the event bus as server-sent events, one stream a page.
import type { HubEvent } from '@guardband/model'
import type { Context } from 'hono'
import { streamSSE } from 'hono/streaming'
import type { EventBus } from './event-bus.ts'
import { Refusal } from './refusal.ts'

export interface EventStreams {
  /** Answers one request with a stream that stays open. `owner` is what `closeOf` knows it by. */
  open(c: Context, owner?: string): Response
  /** Ends the streams of one owner. */
  closeOf(owner: string): void
  /** Ends every stream. */
  close(): void
}

/** `wants` picks the events that these streams carry. */
export function createEventStreams(bus: EventBus, head: () => number, wants: (event: HubEvent) => boolean = () => true): EventStreams {
  const ends = new Map<() => void, string>()
  return {
    open(c, owner = '') {
      if (ends.size >= MOST_STREAMS) throw new Refusal(503, { code: 'too-many-streams', message: `at most ${MOST_STREAMS} pages can listen at once.`, mend: 'Close some.' })
      const seen = Number(c.req.header('last-event-id'))
      const queue: HubEvent[] = []
      let wake: (() => void) | undefined
      let ended = false
      const end = (): void => {
        ended = true
        wake?.()
      }
      const unsubscribe = bus.subscribe((event) => {
        if (!wants(event)) return
        // A reader that stands still gets one "changed", which makes it load everything anew.
        if (queue.length >= MOST_WAITING) queue.splice(0, queue.length, { type: 'changed', head: head() })
        queue.push(event)
        wake?.()
      })
      ends.set(end, owner)
      const now = head()
      if (Number.isInteger(seen) && seen > 0 && seen !== now) queue.push({ type: 'changed', head: now })
      return streamSSE(c, async (stream) => {
        stream.onAbort(end)
        const heart = setInterval(() => void stream.write(': alive\n\n'), HEARTBEAT_MS)
        try {
          await stream.write(`retry: ${RETRY_MS}\nid: ${now}\n: listening\n\n`)
          while (!ended) {
            const event = queue.shift()
            if (event === undefined) {
              await new Promise<void>((resolve) => (wake = resolve))
              continue
            }
            await stream.writeSSE({ data: JSON.stringify(event), ...(event.type === 'changed' ? { id: String(event.head) } : {}) })
          }
        } finally {
          clearInterval(heart)
          unsubscribe()
          ends.delete(end)
        }
      })
    },
    closeOf(owner) {
      for (const [end, whose] of ends) if (whose === owner) end()
    },
    close() {
      for (const end of ends.keys()) end()
    },
  }
}

/** Proxies and sleeping laptops drop silent connections; a comment now and then also finds readers that are gone. */
const HEARTBEAT_MS = 15_000

/** A page that lost its hub tries again after this. */
const RETRY_MS = 1000

const MOST_STREAMS = 100
const MOST_WAITING = 500
