// The bench view's own state outside React: the hub's last word, the outbox over it, and what was entered here and may be undone.
import type { BenchState } from '@guardband/model/api/phone'
import type { Message, Outbox } from './outbox.ts'
import { withSaved } from './held-state.ts'

export type HubSight = 'asking' | 'there' | 'silent' | 'shut out'

export interface View {
  readonly hub: HubSight
  /** Undefined until the hub was heard once. */
  readonly state: BenchState | undefined
  readonly waiting: readonly Message[]
  readonly outbox: ReturnType<Outbox['state']>
  /** What was entered here last and not taken back, newest last. */
  readonly undoable: readonly Message[]
  /** The last thing that reached the hub's disk. */
  readonly lastSaved: string | undefined
}

export interface Desk {
  readonly view: () => View
  readonly listen: (listener: () => void) => () => void
  /** Keeps it and sends it. */
  readonly enter: (message: Message) => Promise<void>
  readonly undo: (newRequest: string) => Promise<void>
  readonly leaveOut: () => Promise<void>
  /** Sends what was refused once more. */
  readonly tryAgain: () => void
  /** Something changed at the hub, or the way to it is open again. */
  readonly look: () => void
}

export interface DeskNeeds {
  readonly outbox: Outbox
  readonly read: () => Promise<{ readonly result: 'read'; readonly state: BenchState } | { readonly result: 'silent' } | { readonly result: 'shut out' }>
}

export function createDesk({ outbox, read }: DeskNeeds): Desk {
  const listeners = new Set<() => void>()
  let hub: HubSight = 'asking'
  let state: BenchState | undefined
  let undoable: readonly Message[] = []
  let lastSaved: string | undefined
  /** Counts what was saved: a reply that was asked for before one of them may not hold it. */
  let saves = 0
  let looking = false
  let again = false
  let view = makeView()

  function makeView(): View {
    return { hub, state, waiting: outbox.waiting(), outbox: outbox.state(), undoable, lastSaved }
  }
  function tell(): void {
    view = makeView()
    for (const listener of listeners) listener()
  }
  async function look(): Promise<void> {
    if (looking) {
      again = true
      return
    }
    looking = true
    do {
      again = false
      const before = saves
      const reply = await read()
      if (reply.result !== 'read') hub = reply.result
      else if (saves === before) {
        hub = 'there'
        state = reply.state
      } else again = true
      tell()
    } while (again)
    looking = false
  }

  outbox.listen(({ saved }) => {
    if (saved !== null) {
      saves += 1
      lastSaved = saved.what
      if (state !== undefined) state = withSaved(state, saved)
      void look()
    }
    tell()
  })
  return {
    view: () => view,
    listen: (listener) => {
      listeners.add(listener)
      return () => listeners.delete(listener)
    },
    enter: async (message) => {
      await outbox.add(message)
      if (message.kind === 'entry') undoable = [...undoable, message].slice(-MOST_UNDOABLE)
      tell()
    },
    undo: async (newRequest) => {
      const last = undoable.at(-1)
      if (last?.kind !== 'entry') return
      undoable = undoable.slice(0, -1)
      // What was never sent needs no word to the hub.
      if (!(await outbox.withdraw(last.request))) {
        await outbox.add({ kind: 'take back', request: newRequest, labId: last.labId, entry: last.request, items: last.items, what: `Took back: ${last.what}` })
      }
      tell()
    },
    leaveOut: async () => {
      const gone = new Set((await outbox.leaveOut()).map(({ request }) => request))
      undoable = undoable.filter(({ request }) => !gone.has(request))
      void look()
    },
    look: () => {
      // What was refused waits for a person's word.
      if (outbox.state().state !== 'refused') outbox.tryNow()
      void look()
    },
    tryAgain: outbox.tryNow,
  }
}

const MOST_UNDOABLE = 30
