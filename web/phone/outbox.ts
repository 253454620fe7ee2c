// What was entered on the phone and is not yet on the hub's disk: kept in the phone until the hub has replied, sent in order, one at a time, under ids that let it be sent again.
import type { ChangeItem } from '@guardband/model/change'

export type Message =
  | { readonly kind: 'entry'; readonly request: string; readonly labId: string; readonly what: string; readonly items: readonly ChangeItem[] }
  /** The entry that was sent under `entry` shall not stand. */
  | { readonly kind: 'take back'; readonly request: string; readonly labId: string; readonly what: string; readonly entry: string; readonly items: readonly ChangeItem[] }
  | { readonly kind: 'picture'; readonly request: string; readonly labId: string; readonly what: string; readonly about: string; readonly name: string; readonly file: Blob; readonly thumbnail: Blob | null }

/** Where messages are kept over a reload. Each call resolves once it is done and kept. */
export interface MessageStore {
  /** In the order in which they were put. */
  readonly all: () => Promise<readonly Message[]>
  readonly put: (message: Message) => Promise<void>
  readonly remove: (request: string) => Promise<void>
}

export type SendResult =
  /** On the hub's disk. */
  | { readonly result: 'saved' }
  /** No reply: nobody knows whether it arrived. */
  | { readonly result: 'silent' }
  | { readonly result: 'refused'; readonly sentence: string }
  /** This device is not let in any more. */
  | { readonly result: 'shut out' }

export type OutboxState =
  | { readonly state: 'all saved' }
  | { readonly state: 'sending' }
  | { readonly state: 'silent' }
  | { readonly state: 'shut out' }
  | { readonly state: 'refused'; readonly message: Message; readonly sentence: string }

export interface Outbox {
  /** In the order in which they were made; the first is the one being sent. */
  readonly waiting: () => readonly Message[]
  readonly state: () => OutboxState
  /** Resolves once the phone keeps it; then it is sent. */
  readonly add: (message: Message) => Promise<void>
  /** Takes out a message that was never sent. False when it may have been. */
  readonly withdraw: (request: string) => Promise<boolean>
  /** Sends what waits, now. */
  readonly tryNow: () => void
  /** Gives the refused message up, and all that builds on it. Returns what was given up. */
  readonly leaveOut: () => Promise<readonly Message[]>
  readonly listen: (listener: (event: { readonly saved: Message | null }) => void) => () => void
}

export interface OutboxNeeds {
  readonly store: MessageStore
  readonly send: (message: Message) => Promise<SendResult>
  /** Runs `work` after so many milliseconds, unless the returned function is called before. */
  readonly later: (milliseconds: number, work: () => void) => () => void
}

/** Begins with what was kept before. */
export async function createOutbox({ store, send, later }: OutboxNeeds): Promise<Outbox> {
  const listeners = new Set<(event: { readonly saved: Message | null }) => void>()
  let waiting = await store.all()
  // Of what a page before this one left, nobody knows what it sent.
  const sent = new Set(waiting.map(({ request }) => request))
  let state: OutboxState = { state: 'all saved' }
  let pause = FIRST_PAUSE_MS
  let cancelRetry: (() => void) | undefined
  let busy = false

  const tell = (saved: Message | null): void => {
    for (const listener of listeners) listener({ saved })
  }
  const become = (next: OutboxState): void => {
    state = next
    tell(null)
  }
  const take = async (request: string): Promise<void> => {
    await store.remove(request)
    waiting = waiting.filter((message) => message.request !== request)
  }

  const pump = async (): Promise<void> => {
    if (busy) return
    busy = true
    cancelRetry?.()
    try {
      for (;;) {
        const message = waiting[0]
        if (message === undefined) return become({ state: 'all saved' })
        if (state.state !== 'silent') become({ state: 'sending' })
        sent.add(message.request)
        const reply = await send(message)
        if (reply.result === 'saved') {
          pause = FIRST_PAUSE_MS
          await take(message.request)
          state = { state: 'sending' }
          tell(message)
        } else if (reply.result === 'refused') return become({ state: 'refused', message, sentence: reply.sentence })
        else {
          become({ state: reply.result })
          cancelRetry = later(pause, () => void pump())
          pause = Math.min(pause * 2, LONGEST_PAUSE_MS)
          return
        }
      }
    } finally {
      busy = false
    }
  }
  void pump()

  return {
    waiting: () => waiting,
    state: () => state,
    add: async (message) => {
      await store.put(message)
      waiting = [...waiting, message]
      tell(null)
      if (state.state === 'all saved' || state.state === 'sending') void pump()
    },
    withdraw: async (request) => {
      if (sent.has(request) || !waiting.some((message) => message.request === request)) return false
      // Nobody may begin to send it while it is being taken out.
      sent.add(request)
      waiting = waiting.filter((message) => message.request !== request)
      await store.remove(request)
      tell(null)
      return true
    },
    tryNow: () => void pump(),
    leaveOut: async () => {
      if (state.state !== 'refused') return []
      const gone = buildsOn(waiting, state.message)
      for (const { request } of gone) await take(request)
      state = { state: 'sending' }
      tell(null)
      void pump()
      return gone
    },
    listen: (listener) => {
      listeners.add(listener)
      return () => listeners.delete(listener)
    },
  }
}

const FIRST_PAUSE_MS = 700
const LONGEST_PAUSE_MS = 8000

/** The message and every later one that names it, or a record that it or one of those would have made. */
function buildsOn(waiting: readonly Message[], first: Message): readonly Message[] {
  const ids = new Set<string>()
  return waiting.filter((message) => {
    const within = message.request === first.request || (ids.size > 0 && names(message, ids))
    if (within) {
      ids.add(message.request)
      if (message.kind === 'entry') for (const { before, after } of message.items) if (before === null && after !== null) ids.add(after.id)
    }
    return within
  })
}

function names(message: Message, ids: ReadonlySet<string>): boolean {
  const text = message.kind === 'picture' ? message.about : message.kind === 'take back' ? message.entry : JSON.stringify(message.items)
  return [...ids].some((id) => text.includes(id))
}
