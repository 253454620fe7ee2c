// A rig's link to its places: mirrors journals, tells what it is at, and hears answers. A place that is slow, gone or hostile never holds a plan up.
import type { Ask, LiveState } from '@guardband/model'
import { journalPath, type JournalDisk } from '../journal-disk.ts'
import type { Link, Seen } from '../link.ts'
import type { People, Question, Said } from '../people.ts'
import type { PlaceClient, PlaceWishes } from './place-client.ts'
import { createPlaceLine } from './place-line.ts'
import { pushFolder, pushJournal, type Pushed } from './push.ts'

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
  let stopping = false
  const moment = (): string => new Date(sources.now()).toISOString()
  const told = (wishes: PlaceWishes, client: PlaceClient): void => {
    if (closed) return
    if (wishes.stop && !stopping) {
      try {
        onStop()
        stopping = true
      } catch (cause) {
        say(`caution: ${client.place.name} asks to stop, and that could not be noted (${cause instanceof Error ? cause.message : String(cause)})`)
      }
    }
    for (const { ask, answer, who, via } of wishes.answers) {
      if (waiting?.ask.id === ask && fits(waiting.ask, answer)) waiting.answered({ answer: waiting.ask.kind === 'done' ? '' : answer, who: who.trim() || client.place.name, via })
    }
  }
  const lines = clients.map((client) =>
    createPlaceLine({
      client, monotonic: sources.monotonic, say,
      current: () => state,
      told: (wishes) => told(wishes, client),
      pushAll: (sent) => pushFolder(client, disk, { journalFolder, keptFolder, sent }),
    }),
  )
  /** Journals of this session that were closed after a place had heard of them last: their ends would wait there until the plan is over. */
  const closedSince = clients.map(() => new Set<string>())
  const pushOpen = async (at: number, path: string, sent: Set<string>): Promise<{ readonly holds: boolean; readonly remarks: readonly string[] }> => {
    const push = (file: string): Promise<Pushed> => pushJournal(clients[at], disk, { path: file, keptFolder, sent })
    const remarks: string[] = []
    // First: a journal says how the one before it ended, and a place that knows another end of it takes this rig for a copy.
    for (const journal of closedSince[at]) {
      remarks.push(...(await push(journalPath(journalFolder, journal))).remarks)
      closedSince[at].delete(journal)
    }
    const own = await push(path)
    return { holds: own.journals > 0, remarks: [...remarks, ...own.remarks] }
  }
  const change = (more: Partial<LiveState>): void => {
    state = { ...state, ...more }
    for (const line of lines) line.changed()
  }
  const heart = setInterval(() => lines.forEach((line) => line.changed()), HEARTBEAT_MS).unref()
  for (const line of lines) line.changed()

  const link: Link = {
    mirror: async (path) => {
      if (lines.length === 0) return 'none'
      const ends = await Promise.all(
        lines.map(async (line, at) => {
          const taken = { holds: false }
          const end = await line.push(async (sent) => {
            const { holds, remarks } = await pushOpen(at, path, sent)
            taken.holds = holds
            return { remarks }
          })
          return end === 'held' && taken.holds
        }),
      )
      return ends.includes(true) ? 'held' : 'not reached'
    },
    seen: async (journal) => {
      const all = await Promise.all(lines.map(async (line, at): Promise<readonly Seen[]> => (await line.ask(() => clients[at].seen(journal))) ?? []))
      return all.flat().toSorted((a, b) => Date.parse(a.at) - Date.parse(b.at))
    },
    clock: () => clients.flatMap((client) => client.clock() ?? []).toSorted((a, b) => a.within - b.within)[0] ?? null,
    live: {
      at: (step) => change({ step: step === null ? null : { ...step, id: step.id.slice(0, LONGEST_NAME), name: step.name.slice(0, LONGEST_LINE), since: moment() } }),
      ended: (line) => change({ last: [{ at: moment(), text: line.text.slice(0, LONGEST_LINE), outcome: line.outcome }, ...state.last].slice(0, MOST_LINES) }),
      turned: (next, message) => change({ state: next, message: message === null ? null : message.slice(0, LONGEST_MESSAGE) }),
      counted: (counts) => change(counts),
      journal: (id) => {
        const { journal } = state
        if (journal !== null && journal !== id) closedSince.forEach((closed) => closed.add(journal))
        change({ journal: id })
      },
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
const MOST_LINES = 20
const MOST_CHANGES = 500
const LONGEST_NAME = 200
const LONGEST_LINE = 2000
const LONGEST_MESSAGE = 4000

/** A question that the contract would not carry would never be answered. */
function askOf({ kind, step, text, words = [], unit, lines = [], picture }: Question, { id, since }: Pick<Ask, 'id' | 'since'>): Ask {
  return { id, kind, step: step.slice(0, LONGEST_NAME), text: text.slice(0, LONGEST_MESSAGE) || '?', words: [...words], unit: unit ?? null, lines: lines.slice(0, MOST_CHANGES), picture: picture ?? false, since }
}

/** What a place says is held to the question, whatever it let through. */
function fits({ kind, words, unit }: Ask, answer: string): boolean {
  if (kind === 'choice') return words.includes(answer)
  return kind === 'done' || (answer.trim() !== '' && (unit === null || Number.isFinite(Number(answer))))
}
