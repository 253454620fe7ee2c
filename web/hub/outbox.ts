// Changes on their way to the hub's disk: kept in the browser until the hub has replied, sent in order, one at a time, under ids that let them be sent again.
import { changeItemSchema, type ChangeItem } from '@guardband/model/change'
import { idSchema } from '@guardband/model/ids'
import { z } from 'zod'
import { call, HubError } from './client.ts'

/** A change to make, or one to take back that was sent before. */
export type OutboxAct =
  | { readonly kind: 'change'; readonly what: string; readonly items: readonly ChangeItem[] }
  | { readonly kind: 'take back'; readonly what: string; readonly entry: string; readonly items: readonly ChangeItem[] }

export interface OutboxEntry {
  /** The id under which it is sent; ids rise in the order in which entries were made. */
  readonly request: string
  /** What it belongs to on the page: a sheet. */
  readonly about: string
  readonly act: OutboxAct
  /** held: it builds on one that was refused. */
  readonly state: 'waiting' | 'refused' | 'held'
  /** Why it was refused. */
  readonly sentence?: string
}

/** Where entries are kept between reloads; every tab of the page sees the same. */
export interface OutboxStore {
  readonly keys: () => readonly string[]
  readonly get: (key: string) => string | null
  /** Throws where there is no room. */
  readonly set: (key: string, text: string) => void
  readonly remove: (key: string) => void
}

export interface OutboxNeeds {
  /** What is entered in one lab is sent to no other. */
  readonly labId: string
  readonly store: OutboxStore
  /** Resolves with the change's number once it is on the hub's disk. */
  readonly send: (entry: OutboxEntry) => Promise<number>
  /** Runs `work` while no other tab runs any under this name. */
  readonly alone: (name: string, work: () => Promise<void>) => Promise<void>
  /** Runs `work` after so many milliseconds. */
  readonly later: (milliseconds: number, work: () => void) => void
}

export type OutboxEvent =
  /** On the hub's disk; `change` is not known where another tab sent it. */
  | { readonly type: 'saved'; readonly entry: OutboxEntry; readonly change: number | undefined }
  | { readonly type: 'changed' }

export interface Outbox {
  /** In the order in which they were made. */
  readonly entries: () => readonly OutboxEntry[]
  /** Why nothing gets through at the moment; null while all is well. */
  readonly trouble: () => string | null
  /** Keeps the entry, then sends it. Throws where the browser has no room to keep it. */
  readonly add: (entry: Pick<OutboxEntry, 'request' | 'about' | 'act'>) => void
  /** Sends one that was refused again, and all that build on it. */
  readonly retry: (request: string) => void
  /** Gives one up that was refused, and all that build on it. */
  readonly drop: (request: string) => void
  /** Looks at what other tabs did, and sends what waits. Resolves when nothing more can be done now. */
  readonly flush: () => Promise<void>
  readonly listen: (listener: (event: OutboxEvent) => void) => () => void
}

export function createOutbox({ labId, store, send, alone, later }: OutboxNeeds): Outbox {
  const prefix = `guardband-outbox/${labId}/`
  const listeners = new Set<(event: OutboxEvent) => void>()
  const kept = new Map<string, { readonly text: string; readonly entry: readonly OutboxEntry[] }>()
  let entries: readonly OutboxEntry[] = read()
  let trouble: string | null = null
  let pause = FIRST_PAUSE_MS
  let waiting = false

  function read(): readonly OutboxEntry[] {
    const keys = store.keys().filter((key) => key.startsWith(prefix)).toSorted()
    return holdBack(keys.flatMap(readKept))
  }

  /** Reading anew costs a check against the schema; what has not changed since is taken as it was read. */
  function readKept(key: string): readonly OutboxEntry[] {
    const text = store.get(key) ?? ''
    const known = kept.get(key)
    if (known?.text === text) return known.entry
    const entry = readEntry(text)
    kept.set(key, { text, entry })
    return entry
  }

  function tell(event: OutboxEvent): void {
    for (const listener of listeners) listener(event)
  }

  function keep(entry: OutboxEntry): void {
    store.set(prefix + entry.request, JSON.stringify(entry))
  }

  /** What another tab sent meanwhile is gone from the store. */
  function look(): void {
    const before = entries
    entries = read()
    const left = new Set(entries.map(({ request }) => request))
    for (const entry of before) if (!left.has(entry.request)) tell({ type: 'saved', entry, change: undefined })
    tell({ type: 'changed' })
  }

  async function sendAll(): Promise<void> {
    for (;;) {
      look()
      const entry = entries.find(({ state }) => state === 'waiting')
      if (entry === undefined) return settle(null)
      try {
        const change = await send(entry)
        store.remove(prefix + entry.request)
        kept.delete(prefix + entry.request)
        entries = entries.filter(({ request }) => request !== entry.request)
        tell({ type: 'saved', entry, change })
        settle(null)
      } catch (error) {
        if (mayPass(error)) return settle(error instanceof Error ? error.message : String(error))
        keep({ ...entry, state: 'refused', sentence: error instanceof Error ? error.message : String(error) })
      }
    }
  }

  function settle(now: string | null): void {
    const before = trouble
    trouble = now
    if (now === null) pause = FIRST_PAUSE_MS
    else if (!waiting) {
      waiting = true
      later(pause, () => {
        waiting = false
        void flush()
      })
      pause = Math.min(pause * 2, LONGEST_PAUSE_MS)
    }
    if (before !== now) tell({ type: 'changed' })
  }

  let running: Promise<void> | undefined
  let again = false
  /** One round at a time within this tab; a call during one makes another follow, and ends with that. */
  function flush(): Promise<void> {
    again = true
    running ??= rounds()
    return running
  }

  async function rounds(): Promise<void> {
    try {
      while (again) {
        again = false
        await alone(prefix, sendAll)
      }
    } finally {
      running = undefined
    }
  }

  return {
    entries: () => entries,
    trouble: () => trouble,
    add: (entry) => {
      const whole: OutboxEntry = { ...entry, state: 'waiting' }
      keep(whole)
      entries = holdBack([...entries, whole])
      tell({ type: 'changed' })
      void flush()
    },
    retry: (request) => {
      for (const entry of entries) {
        if (entry.request !== request || entry.state !== 'refused') continue
        const { sentence: _sentence, ...rest } = entry
        keep({ ...rest, state: 'waiting' })
      }
      look()
      void flush()
    },
    drop: (request) => {
      const gone = entries.some((entry) => entry.request === request && entry.state !== 'waiting') ? buildsOn(entries, request) : []
      for (const entry of gone) store.remove(prefix + entry.request)
      entries = holdBack(entries.filter((entry) => !gone.includes(entry)))
      tell({ type: 'changed' })
    },
    flush,
    listen: (listener) => {
      listeners.add(listener)
      return () => listeners.delete(listener)
    },
  }
}

/** Sends an entry to the hub of this page. */
export async function sendToHub({ request, act }: OutboxEntry): Promise<number> {
  try {
    if (act.kind === 'take back') return (await call('takeBack', { input: { request: act.entry } })).change
    return (await call('apply', { input: { request, what: act.what, items: [...act.items] } })).change
  } catch (error) {
    // It was made, and somebody took it back before this page heard of either: the page reads anew what stands.
    if (error instanceof HubError && error.code === 'request-taken-back') return 0
    throw error
  }
}

/** Kept with the page's address by the browser. */
export function browserStore(storage: Storage): OutboxStore {
  return {
    keys: () => Array.from({ length: storage.length }, (_, place) => storage.key(place) ?? ''),
    get: (key) => storage.getItem(key),
    set: (key, text) => storage.setItem(key, text),
    remove: (key) => storage.removeItem(key),
  }
}

/** Entries that build on refused ones wait for a person's word on those. */
function holdBack(entries: readonly OutboxEntry[]): readonly OutboxEntry[] {
  const made = new Set<string>()
  return entries.map((entry) => {
    const stuck = entry.state === 'refused' || touches(entry, made)
    if (stuck) for (const id of idsOf(entry)) made.add(id)
    if (entry.state === 'refused') return entry
    return { ...entry, state: stuck ? ('held' as const) : ('waiting' as const) }
  })
}

function buildsOn(entries: readonly OutboxEntry[], request: string): readonly OutboxEntry[] {
  const ids = new Set<string>()
  return entries.filter((entry) => {
    const within = entry.request === request || (ids.size > 0 && touches(entry, ids))
    if (within) for (const id of idsOf(entry)) ids.add(id)
    return within
  })
}

function idsOf({ request, act }: OutboxEntry): readonly string[] {
  return [request, ...act.items.flatMap(({ before, after }) => [before?.id ?? after?.id ?? ''])]
}

/** Names one of these ids anywhere: as its own record, or as one that it refers to. */
function touches({ act }: OutboxEntry, ids: ReadonlySet<string>): boolean {
  if (ids.size === 0) return false
  const text = JSON.stringify(act)
  return [...ids].some((id) => text.includes(id))
}

/** Trouble on the way, which says nothing about the change itself. */
function mayPass(error: unknown): boolean {
  if (!(error instanceof HubError)) return false
  return ON_THE_WAY.has(error.code) || error.code.startsWith('status-')
}

/** A hub that was started anew lets no browser in until its address is opened ("no-session"): what waits goes out then. */
const ON_THE_WAY: ReadonlySet<string> = new Set(['hub-silent', 'not-let-in', 'no-session', 'reply-not-understood'])

const entrySchema = z.strictObject({
  request: idSchema,
  about: z.string(),
  act: z.discriminatedUnion('kind', [
    z.strictObject({ kind: z.literal('change'), what: z.string(), items: z.array(changeItemSchema) }),
    z.strictObject({ kind: z.literal('take back'), what: z.string(), entry: idSchema, items: z.array(changeItemSchema) }),
  ]),
  state: z.enum(['waiting', 'refused', 'held']),
  sentence: z.string().optional(),
})

/** What can't be read was not written by this page, or by another version of it: it stays where it is. */
function readEntry(text: string): readonly OutboxEntry[] {
  try {
    const { sentence, ...entry } = entrySchema.parse(JSON.parse(text))
    return [{ ...entry, ...(sentence === undefined ? {} : { sentence }) }]
  } catch {
    return []
  }
}

const FIRST_PAUSE_MS = 700
const LONGEST_PAUSE_MS = 8000
