// Listens to the hub: what changed is read again. Where the stream can't be had, the head of the change log is looked at from time to time.
import { useEffect } from 'react'
import { useQueryClient, type QueryClient } from '@tanstack/react-query'
import { eventSchema, type HubEvent } from '@guardband/model/api'
import { call } from './client.ts'
import { answerKey, type ShownAnswer } from './queries.ts'

export function useHubEvents(onLabSwitched: () => void): void {
  const queries = useQueryClient()
  useEffect(() => {
    const stream = new EventSource('/api/events')
    let polling: ReturnType<typeof setInterval> | undefined
    const poll = (): void => {
      polling ??= setInterval(() => void lookAtHead(queries), POLL_MS)
    }
    const receive = (message: MessageEvent<string>): void => {
      const event = readEvent(message.data)
      if (event === undefined) return
      applyEvent(queries, event)
      if (event.type === 'lab switched') onLabSwitched()
    }
    stream.addEventListener('message', receive)
    for (const name of ['changed', 'answer', 'lab switched']) stream.addEventListener(name, receive as (event: Event) => void)
    stream.addEventListener('open', () => {
      // Something may have been missed while the stream was down.
      if (polling === undefined) return
      clearInterval(polling)
      polling = undefined
      void queries.invalidateQueries()
    })
    stream.addEventListener('error', poll)
    return () => {
      stream.close()
      clearInterval(polling)
    }
  }, [queries, onLabSwitched])
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
  } else queries.clear()
}

async function lookAtHead(queries: QueryClient): Promise<void> {
  try {
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
