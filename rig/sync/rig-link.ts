// A rig's link to its places: mirrors journals, tells what it is at, and hears answers. A place that is slow, gone or hostile never holds a plan up.
import { setTimeout as wait } from 'node:timers/promises'
import type { Ask, LiveState } from '@guardband/model'
import type { JournalDisk } from '../journal-disk.ts'
import type { Link, Seen } from '../link.ts'
import type { People, Question, Said } from '../people.ts'
import type { PlaceClient, PlaceWishes } from './place-client.ts'
import { pushFolder, pushJournal } from './push.ts'

export interface RigLinkOrder {
  readonly clients: readonly PlaceClient[]
  readonly rig: string
  readonly plan: LiveState['plan']
  readonly journalFolder: string
  readonly keptFolder: string
  readonly disk: JournalDisk
  readonly sources: { readonly now: () => number; readonly monotonic: () => number; readonly newId: () => string }
  /** A person at a hub wants the rig to stop. */
  readonly onStop: () => void
  /** A line for the terminal. */
  readonly say: (line: string) => void
}

export interface RigLink {
  readonly link: Link
  /** Whoever holds a phone or sits at the hub's page. */
  readonly people: People
}

export function createRigLink({ clients, rig, plan, journalFolder, keptFolder, disk, sources, onStop, say }: RigLinkOrder): RigLink {
  let state: LiveState = { rig, plan, state: 'at work', message: null, step: null, done: 0, left: 0, minutesLeft: null, journal: null, ask: null, last: [] }
  let waiting: { readonly ask: Ask; readonly answered: (said: Said) => void } | null = null
  let closed = false
  const moment = (): string => new Date(sources.now()).toISOString()
  const told = (wishes: PlaceWishes): void => {
    if (wishes.stop) onStop()
    for (const { ask, answer, who, via } of wishes.answers) if (waiting?.ask.id === ask && fits(waiting.ask, answer)) waiting.answered({ answer, who, via })
  }
  const lines = clients.map((client) => createLine(client, { monotonic: sources.monotonic, say, current: () => state, told, push: (sent) => pushFolder(client, disk, { journalFolder, keptFolder, sent }) }))
  const change = (more: Partial<LiveState>): void => {
    state = { ...state, ...more }
    for (const line of lines) line.changed()
  }
  const heart = setInterval(() => lines.forEach((line) => line.changed()), HEARTBEAT_MS).unref()
  for (const line of lines) void line.begin()

  const link: Link = {
    mirror: async (path) => {
      if (lines.length === 0) return 'none'
      const ends = await Promise.all(lines.map((line) => line.inTurn((sent) => pushJournal(line.client, disk, { path, keptFolder, sent }), MIRROR_MS)))
      return ends.includes('held') ? 'held' : 'not reached'
    },
    seen: async (journal) => {
      const all = await Promise.all(lines.map(({ client }) => client.seen(journal).catch((): readonly Seen[] => [])))
      return all.flat().toSorted((a, b) => Date.parse(a.at) - Date.parse(b.at))
    },
    clock: () => lines.flatMap(({ client }) => client.clock() ?? []).toSorted((a, b) => a.within - b.within)[0] ?? null,
    live: {
      at: (step) => change({ step: step === null ? null : { ...step, since: moment() } }),
      ended: (line) => change({ last: [{ at: moment(), text: line.text.slice(0, LONGEST_LINE), outcome: line.outcome }, ...state.last].slice(0, MOST_LINES) }),
      turned: (next, message) => change({ state: next, message: message === null ? null : message.slice(0, LONGEST_MESSAGE) }),
      counted: (counts) => change(counts),
      journal: (id) => change({ journal: id }),
    },
    close: async () => {
      if (closed) return
      closed = true
      clearInterval(heart)
      await Promise.all(lines.map((line) => line.end()))
    },
  }
  const people: People = {
    present: clients.length > 0,
    ask: async (question, signal) => {
      signal.throwIfAborted()
      const ask = askOf(question, { id: sources.newId(), since: moment() })
      const said = Promise.withResolvers<Said>()
      const stop = (): void => said.reject(signal.reason)
      signal.addEventListener('abort', stop, { once: true })
      waiting = { ask, answered: said.resolve }
      change({ ask })
      // Keeps the program running: nothing else may be under way while a person far off is asked.
      const pulse = setInterval(() => lines.forEach((line) => line.changed()), ASK_MS)
      try {
        return await said.promise
      } finally {
        clearInterval(pulse)
        signal.removeEventListener('abort', stop)
        waiting = null
        change({ ask: null })
      }
    },
  }
  return { link, people }
}

/** As often as the journal has heartbeats. */
const HEARTBEAT_MS = 5000
/** While somebody is asked: they see the rig go on within about this. */
const ASK_MS = 1000
/** A step waits no longer than this for a place that does not answer. */
const MIRROR_MS = 3000
/** The last push, when the plan is over, may take longer: nothing waits for it but the terminal. */
const LAST_MS = 20_000
/** A place that was not reached is left alone for so long, then twice as long, up to the last. */
const REST_SECONDS = { first: 5, last: 60 } as const
const SMALLEST_GAP_MS = 250
const MOST_LINES = 20
const LONGEST_LINE = 2000
const LONGEST_MESSAGE = 4000

interface Line {
  readonly client: PlaceClient
  readonly begin: () => Promise<void>
  /** The state is another one: it is sent soon. */
  readonly changed: () => void
  /** Does this work when what was begun before is done; gives up waiting, not the work, after so long. */
  readonly inTurn: (work: (sent: Set<string>) => Promise<unknown>, patienceMs: number) => Promise<'held' | 'not reached'>
  readonly end: () => Promise<void>
}

interface LineNeeds {
  readonly monotonic: () => number
  readonly say: (line: string) => void
  readonly current: () => LiveState
  readonly told: (wishes: PlaceWishes) => void
  readonly push: (sent: Set<string>) => Promise<{ readonly remarks: readonly string[] }>
}

function createLine(client: PlaceClient, { monotonic, say, current, told, push }: LineNeeds): Line {
  const sent = new Set<string>()
  const said = new Set<string>()
  let greeted = false
  let rest = { until: 0, seconds: 0 }
  let queue: Promise<unknown> = Promise.resolve()
  let sending: NodeJS.Timeout | null = null
  let busy = false
  let dirty = false

  const reached = (): void => {
    if (rest.seconds > 0) say(`${client.place.name} answers again`)
    rest = { until: 0, seconds: 0 }
  }
  const lost = (cause: unknown): void => {
    if (rest.seconds === 0) say(`${client.place.name} at ${client.place.origin} does not answer (${cause instanceof Error ? cause.message : String(cause)}); the plan goes on, and what it lacks is handed over later`)
    const seconds = Math.min(REST_SECONDS.last, rest.seconds === 0 ? REST_SECONDS.first : rest.seconds * 2)
    rest = { until: monotonic() + seconds, seconds }
  }
  /** The first time that a place is reached, all that it lacks goes over. */
  const greet = async (): Promise<void> => {
    if (greeted) return
    await client.hello()
    const { remarks } = await push(sent)
    for (const remark of remarks.filter((each) => !said.has(each))) {
      said.add(remark)
      say(remark)
    }
    greeted = true
  }
  const attempt = async (work: () => Promise<unknown>): Promise<'held' | 'not reached'> => {
    if (monotonic() < rest.until) return 'not reached'
    try {
      await greet()
      await work()
      reached()
      return 'held'
    } catch (cause) {
      lost(cause)
      return 'not reached'
    }
  }
  const inTurn: Line['inTurn'] = async (work, patienceMs) => {
    const before = queue
    const mine = (async () => {
      await before
      return attempt(() => work(sent))
    })()
    queue = mine
    const over = new AbortController()
    const late = wait(patienceMs, 'not reached' as const, { signal: over.signal, ref: false }).catch(() => 'not reached' as const)
    const end = await Promise.race([mine, late])
    over.abort()
    return end
  }
  const send = async (): Promise<void> => {
    sending = null
    if (monotonic() < rest.until) return
    busy = true
    dirty = false
    await attempt(async () => told(await client.state(current())))
    busy = false
    if (dirty) changed()
  }
  const changed = (): void => {
    if (busy) dirty = true
    else sending ??= setTimeout(() => void send(), SMALLEST_GAP_MS).unref()
  }
  return {
    client,
    begin: async () => void (await inTurn(async () => undefined, LAST_MS)),
    changed,
    inTurn,
    end: async () => {
      if (sending !== null) clearTimeout(sending)
      // One that rests gets a last chance: hours of work may lie here.
      rest = { ...rest, until: 0 }
      await inTurn(async () => {
        await push(sent)
        told(await client.state(current()))
      }, LAST_MS)
      client.close()
    },
  }
}

function askOf({ kind, step, text, words = [], unit, lines = [], picture }: Question, { id, since }: Pick<Ask, 'id' | 'since'>): Ask {
  return { id, kind, step, text: text.slice(0, LONGEST_MESSAGE), words: [...words], unit: unit ?? null, lines: [...lines], picture: picture ?? false, since }
}

/** What a place says is held to the question, whatever it let through. */
function fits({ kind, words }: Ask, answer: string): boolean {
  return kind === 'done' || (kind === 'choice' ? words.includes(answer) : answer.trim() !== '')
}

