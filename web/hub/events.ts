// Listens to the hub: what changed is read again. Where the stream can't be had, the head of the change log is looked at from time to time.
import { useEffect } from 'react'
import { useQueryClient, type QueryClient } from '@tanstack/react-query'
import { eventSchema, type HubEvent } from '@guardband/model/api'
import { call } from './client.ts'
import { LIVE_KEY } from './live-rigs.ts'
import { answerKey, type ShownAnswer } from './queries.ts'

/**
 * A page that nobody looks at, or that the browser keeps for the back button, gives its stream up: a browser opens about six connections to one
 * address, and six sleeping streams would leave none for the page in front. On waking it reads everything anew.
 */
export function useHubEvents(onLabSwitched: () => void): void {
  const queries = useQueryClient()
  useEffect(() => {
    let listening: Listening | undefined
    const sleep = (): void => {
      listening?.end()
      listening = undefined
    }
    const wake = (): void => {
      if (listening !== undefined || document.visibilityState === 'hidden') return
      listening = listen(queries, onLabSwitched)
    }
    const wakeAnew = (): void => {
      if (listening !== undefined || document.visibilityState === 'hidden') return
      wake()
      void queries.invalidateQueries()
    }
    const turn = (): void => (document.visibilityState === 'hidden' ? sleep() : wakeAnew())
    wake()
    document.addEventListener('visibilitychange', turn)
    window.addEventListener('pagehide', sleep)
    window.addEventListener('pageshow', wakeAnew)
    return () => {
      sleep()
      document.removeEventListener('visibilitychange', turn)
      window.removeEventListener('pagehide', sleep)
      window.removeEventListener('pageshow', wakeAnew)
    }
  }, [queries, onLabSwitched])
}

interface Listening {
  readonly end: () => void
}

function listen(queries: QueryClient, onLabSwitched: () => void): Listening {
  const stream = new EventSource('/api/events')
  let polling: ReturnType<typeof setInterval> | undefined
  const receive = (message: MessageEvent<string>): void => {
    const event = readEvent(message.data)
    if (event === undefined) return
    applyEvent(queries, event)
    if (event.type === 'lab switched') onLabSwitched()
  }
  stream.addEventListener('message', receive)
  for (const name of ['changed', 'answer', 'rigs', 'lab switched']) stream.addEventListener(name, receive as (event: Event) => void)
  stream.addEventListener('open', () => {
    // Something may have been missed while the stream was down.
    if (polling === undefined) return
    clearInterval(polling)
    polling = undefined
    void queries.invalidateQueries()
  })
  stream.addEventListener('error', () => {
    polling ??= setInterval(() => void lookAtHead(queries), POLL_MS)
  })
  return {
    end: () => {
      stream.close()
      clearInterval(polling)
    },
  }
}

function readEvent(data: string): HubEvent | undefined {
  try {
    return eventSchema.safeParse(JSON.parse(data)).data
  } catch {
    return undefined
  }
}

function applyEvent(queries: QueryClient, event: HubEvent): void {
  if (event.type === 'changed') void queries.invalidateQueries()
  else if (event.type === 'answer') {
    const { progress } = event
    if (event.state === 'computing' && progress !== undefined) {
      queries.setQueryData<ShownAnswer>(answerKey(event.questionId), (shown) =>
        shown?.reply.state === 'computing' ? { ...shown, reply: { ...shown.reply, progress } } : shown,
      )
    } else {
      // A request under way is waiting for this very end: its reply is the one that a new request would get.
      void queries.invalidateQueries({ queryKey: answerKey(event.questionId) }, { cancelRefetch: false })
      void queries.invalidateQueries({ queryKey: ['questions'] })
    }
  } else if (event.type === 'rigs') {
    void queries.invalidateQueries({ queryKey: LIVE_KEY }, { cancelRefetch: false })
    // Clearing would leave on screen what belongs to the lab before.
  } else void queries.resetQueries()
}

async function lookAtHead(queries: QueryClient): Promise<void> {
  try {
    // What rigs are at is no change of the lab.
    void queries.invalidateQueries({ queryKey: LIVE_KEY })
    const { head } = await call('lab')
    if (head === lastHead) return
    lastHead = head
    await queries.invalidateQueries()
  } catch {
    // The pages themselves say when the hub is silent.
  }
}

let lastHead = -1
const POLL_MS = 4000
