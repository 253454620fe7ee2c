// Speaks with one hub or companion. Whatever comes back is held against the contract: it can answer an open question or ask the rig to stop, and nothing else.
import { createPinnedClient, type PinnedClient } from '@guardband/link/pinned-client'
import { SpokenError, SYNC_ROUTES, errorReplySchema, type Held, type LiveState, type Route } from '@guardband/model'
import type { Place } from './places.ts'

export interface Clock {
  /** The place's id: whose clock it was held against. */
  readonly against: string
  /** Seconds to add to this machine's clock to get the place's. */
  readonly offset: number
  /** Half of the round trip, in seconds. */
  readonly within: number
}

export interface PlaceClient {
  readonly place: Place
  /** Of the shortest round trip so far; null before the first. */
  readonly clock: () => Clock | null
  readonly hello: () => Promise<{ readonly id: string; readonly name: string }>
  readonly held: (journal: string) => Promise<Held>
  readonly piece: (journal: string, offset: number, bytes: Uint8Array) => Promise<{ readonly held: Held; readonly runs: number; readonly remarks: readonly string[] }>
  readonly keep: (file: { readonly run: string; readonly what: 'output' | 'error output' | 'picture'; readonly sha256: string }, bytes: Uint8Array) => Promise<void>
  readonly state: (state: LiveState) => Promise<PlaceWishes>
  readonly seen: (journal: string) => Promise<readonly { readonly at: string; readonly what: string; readonly text: string }[]>
  readonly close: () => void
}

export interface PlaceWishes {
  readonly answers: readonly { readonly ask: string; readonly answer: string; readonly who: string; readonly via: 'phone' | 'page' | 'companion' }[]
  readonly stop: boolean
}

export interface ClientSources {
  /** Milliseconds since 1970. */
  readonly now: () => number
  /** Seconds from a clock that never steps. */
  readonly monotonic: () => number
}

/** The place was reached and said no. Whatever else a call throws means that nothing there speaks as a place does. */
export class Refused extends SpokenError {
  readonly status: number

  constructor(status: number, parts: { readonly code: string; readonly message: string }) {
    super(parts)
    this.name = 'Refused'
    this.status = status
  }
}

export function createPlaceClient(place: Place, { now, monotonic }: ClientSources, patienceMs: number = PATIENCE_MS): PlaceClient {
  // What a rig is at and what people answer must not wait behind a journal of megabytes.
  const [journals, talk] = [createPinnedClient(place.fingerprint), createPinnedClient(place.fingerprint)]
  let id = ''
  let best: { readonly clock: Clock; readonly at: number } | null = null

  const call = async <Out>(line: PinnedClient, { method, path, output }: Pick<Route<unknown, Out>, 'method' | 'path' | 'output'>, sent: { readonly params?: Readonly<Record<string, string>>; readonly query?: Readonly<Record<string, string>>; readonly json?: unknown; readonly bytes?: Uint8Array }): Promise<Out> => {
    const target = new URL(path.replaceAll(/:(\w+)/g, (_, name: string) => encodeURIComponent(sent.params?.[name] ?? '')), place.origin)
    for (const [name, value] of Object.entries(sent.query ?? {})) target.searchParams.set(name, value)
    const body = sent.bytes ?? (sent.json === undefined ? undefined : JSON.stringify(sent.json))
    const type = sent.bytes === undefined ? 'application/json' : 'application/octet-stream'
    const reply = await line.request({
      url: target.href, method, patienceMs: patienceMs + Math.ceil((sent.bytes?.length ?? 0) / SLOWEST_BYTES_A_MS), replyBytes: REPLY_BYTES,
      headers: { authorization: `Bearer ${place.token}`, ...(body === undefined ? {} : { 'content-type': type }) },
      ...(body === undefined ? {} : { body }),
    })
    if (reply.status !== 200) {
      const { code, sentence } = errorReplySchema.safeParse(readJson(reply.bytes)).data ?? { code: 'refused', sentence: `status ${reply.status}` }
      throw new Refused(reply.status, { code: clip(code), message: clip(sentence) })
    }
    const told = output.safeParse(readJson(reply.bytes))
    if (!told.success) throw new Error(`it answered ${target.pathname} with something that no hub or companion says`)
    return told.data
  }
  /** The clock there, read halfway between asking and hearing, is off by at most half of the way. */
  const timed = async <Out extends { readonly now: number }>(work: () => Promise<Out>): Promise<Out> => {
    const [begun, from] = [now(), monotonic()]
    const reply = await work()
    const way = monotonic() - from
    const clock: Clock = { against: id, offset: (reply.now - begun) / 1000 - way / 2, within: way / 2 }
    // A short way is worth more than a new one, until the clocks may have drifted apart.
    if (best === null || clock.within <= best.clock.within || monotonic() - best.at > CLOCK_SECONDS) best = { clock, at: monotonic() }
    return reply
  }
  return {
    place,
    clock: () => (id === '' ? null : (best?.clock ?? null)),
    hello: async () => {
      const { name, ...reply } = await timed(() => call(talk, SYNC_ROUTES.hello, { json: {} }))
      id = reply.id
      if (best !== null) best = { ...best, clock: { ...best.clock, against: id } }
      return { id, name: clip(name).trim() || place.origin }
    },
    held: (journal) => call(journals, SYNC_ROUTES.held, { params: { id: journal } }),
    piece: async (journal, offset, bytes) => {
      const { held, runs, remarks } = await call(journals, SYNC_ROUTES.piece, { params: { id: journal }, query: { offset: String(offset) }, bytes })
      return { held, runs, remarks: remarks.slice(0, MOST_SAID).map(clip) }
    },
    keep: async (file, bytes) => void (await call(journals, SYNC_ROUTES.keep, { query: file, bytes })),
    state: (state) => timed(() => call(talk, SYNC_ROUTES.state, { json: { state, clock: best === null || id === '' ? null : { offset: best.clock.offset, within: best.clock.within } } })),
    seen: async (journal) => (await call(talk, SYNC_ROUTES.seen, { params: { id: journal } })).saw.slice(-MOST_SAID).map(({ at, what, text }) => ({ at, what: clip(what), text: clip(text) })),
    close: () => {
      journals.close()
      talk.close()
    },
  }
}

/** A place that is well answers within milliseconds; one that is not must not hold a rig up. */
const PATIENCE_MS = 5000
/** What is sent gets time for itself on top: a weak radio still carries 100 KB a second. */
const SLOWEST_BYTES_A_MS = 100
/** More than any reply of the contract has. */
const REPLY_BYTES = 1024 * 1024
/** Quartz drifts by some millionths: in ten minutes by less than a round trip over a bench's network. */
const CLOCK_SECONDS = 600
/** Of what a place says, so much is heard: it goes to a terminal, and as evidence into a journal. */
const LONGEST_SAID = 200
const MOST_SAID = 20

function clip(text: string): string {
  return text.length > LONGEST_SAID ? `${text.slice(0, LONGEST_SAID - 1)}…` : text
}

function readJson(bytes: Buffer): unknown {
  try {
    return JSON.parse(bytes.toString('utf8'))
  } catch {
    return undefined
  }
}
