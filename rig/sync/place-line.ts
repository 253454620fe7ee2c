// One place behind a rig's link: what is pushed to it and told it, how long anybody waits for that, and how long it is left alone once it did not answer.
import { setTimeout as wait } from 'node:timers/promises'
import type { LiveState } from '@guardband/model'
import { Refused, type PlaceClient, type PlaceWishes } from './place-client.ts'

export interface PlaceLine {
  readonly place: string
  /** The state is another one, or time has passed: it is told soon, and what the place lacks is handed over where something came between before. */
  readonly changed: () => void
  /**
   * Carries this out when earlier pushes are done, and says what the place remarked. Whoever waits gives up after a few seconds; the work does not. A
   * place in trouble is not waited for at all.
   */
  readonly push: (work: (sent: Set<string>) => Promise<Told>) => Promise<'held' | 'not reached'>
  /** Asks something small; undefined where the place is in trouble or takes too long. */
  readonly ask: <Out>(work: () => Promise<Out>) => Promise<Out | undefined>
  /** One last time everything, whatever was before. */
  readonly end: () => Promise<void>
}

export interface PlaceLineOrder {
  readonly client: PlaceClient
  /** Seconds from a clock that never steps. */
  readonly monotonic: () => number
  /** A line for the terminal. */
  readonly say: (line: string) => void
  readonly current: () => LiveState
  readonly told: (wishes: PlaceWishes) => void
  /** Pushes all that there is. */
  readonly pushAll: (sent: Set<string>) => Promise<Told>
}

export interface Told {
  readonly remarks: readonly string[]
}

export function createPlaceLine({ client, monotonic, say, current, told, pushAll }: PlaceLineOrder): PlaceLine {
  const { name, origin } = client.place
  const sent = new Set<string>()
  const said = new Set<string>()
  const [pushing, talking] = [createTrouble(monotonic), createTrouble(monotonic)]
  let queue: Promise<unknown> = Promise.resolve()
  let waitNoMoreUntil = -Infinity
  let greeted = false
  let lacking = true
  let catching = false
  let timer: NodeJS.Timeout | null = null
  let [busy, dirty, ended, closed] = [false, false, false, false]

  const sayOnce = (line: string): void => {
    if (said.has(line) || said.size >= MOST_REMARKS) return
    said.add(line)
    say(line)
  }
  const inTrouble = (): boolean => pushing.is() || talking.is()
  const attempt = async <Out>(trouble: Trouble, work: () => Promise<Out>): Promise<{ readonly out: Out } | undefined> => {
    try {
      const out = await work()
      const before = inTrouble()
      trouble.over()
      if (before && !inTrouble() && !ended) say(`${name} answers again`)
      return { out }
    } catch (cause) {
      // Whatever is thrown here, by a place or by a mistake of ours, must not reach the plan.
      const before = inTrouble()
      trouble.grew()
      lacking = true
      if (closed) return undefined
      if (cause instanceof Refused) sayOnce(cause.status === 401 ? `${name} at ${origin} no longer lets this rig in: ${cause.sentence} The plan goes on; pair the rig anew.` : `${name} at ${origin} refuses: ${cause.sentence} The plan goes on.`)
      else if (!before) say(`${name} at ${origin} is not reached (${cause instanceof Error ? cause.message : String(cause)}); the plan goes on, and what is lacking there is handed over later`)
      return undefined
    }
  }
  /** In the order in which they were asked for. */
  const inTurn = (work: () => Promise<unknown>, wanted: () => boolean = () => true): Promise<'held' | 'not reached'> => {
    const before = queue
    const mine = (async () => {
      await before
      if (!wanted()) return 'not reached'
      return (await attempt(pushing, work)) === undefined ? 'not reached' : 'held'
    })()
    queue = mine
    return mine
  }
  const pushed = async (work: (sent: Set<string>) => Promise<Told>): Promise<void> => {
    const { remarks } = await work(sent)
    remarks.forEach(sayOnce)
  }
  const everything = async (): Promise<void> => {
    await pushed(pushAll)
    lacking = false
  }
  const catchUp = (): void => {
    if (!lacking || catching || pushing.rests()) return
    catching = true
    // What came before it may have failed meanwhile; at the end all is pushed anyway.
    void inTurn(everything, () => lacking && !ended && !pushing.rests()).finally(() => (catching = false))
  }
  const tell = async (): Promise<void> => {
    const was = talking.is()
    const reply = await attempt(talking, async () => {
      if (!greeted) await client.hello()
      greeted = true
      return client.state(current())
    })
    if (reply === undefined) return
    if (was) pushing.retry()
    told(reply.out)
  }
  const send = async (): Promise<void> => {
    timer = null
    if (!talking.rests()) {
      busy = true
      dirty = false
      await tell()
      busy = false
    }
    if (ended) return
    catchUp()
    if (dirty) changed()
  }
  const changed = (): void => {
    if (busy) dirty = true
    else if (!ended) timer ??= setTimeout(() => void send(), SMALLEST_GAP_MS).unref()
  }
  return {
    place: name,
    changed,
    push: async (work) => {
      if (pushing.is() || monotonic() < waitNoMoreUntil) {
        lacking = true
        catchUp()
        return 'not reached'
      }
      const mine = inTurn(async () => {
        // Journals in the order in which they were written: each says how the one before it ended.
        if (lacking) await everything()
        await pushed(work)
      })
      const end = await within(WAIT_MS, mine)
      if (end === undefined) waitNoMoreUntil = monotonic() + NO_WAIT_SECONDS
      return end ?? 'not reached'
    },
    ask: async <Out>(work: () => Promise<Out>) => {
      if (talking.rests() || monotonic() < waitNoMoreUntil) return undefined
      // A place that has no answer to this is well all the same.
      const asked = (): Promise<Out | undefined> => work().catch((cause: unknown) => (cause instanceof Refused ? undefined : Promise.reject(cause)))
      const end = await within(WAIT_MS, attempt(talking, asked))
      if (end === undefined) waitNoMoreUntil = monotonic() + NO_WAIT_SECONDS
      return end?.out
    },
    end: async () => {
      ended = true
      if (timer !== null) clearTimeout(timer)
      // One that was in trouble gets a last chance: hours of work may lie here.
      await within(LAST_MS, Promise.all([inTurn(everything), tell()]))
      closed = true
      client.close()
      if (inTrouble() || lacking) say(`${name} lacks something of this plan; it is handed over when the plan runs again, or by "rig sync"`)
    },
  }
}

/** A step waits no longer than this for a place: mirroring is worth less than the plan. */
const WAIT_MS = 3000
/** Whoever kept a step waiting for nothing is not waited for again for so long: at worst a plan loses one part in twenty. */
const NO_WAIT_SECONDS = 60
/** The last push, when the plan is over, may take longer: nothing waits for it but the terminal. */
const LAST_MS = 20_000
/** A place that was not reached is left alone for so long, then twice as long, up to the last. */
const REST_SECONDS = { first: 5, last: 60 } as const
/** At most four states a second. */
const SMALLEST_GAP_MS = 250
/** Nobody reads more, and a hostile place could go on for ever. */
const MOST_REMARKS = 50

interface Trouble {
  readonly is: () => boolean
  /** It is too early to try again. */
  readonly rests: () => boolean
  readonly grew: () => void
  readonly over: () => void
  /** Other signs of life came. */
  readonly retry: () => void
}

function createTrouble(monotonic: () => number): Trouble {
  let rest: { readonly until: number; readonly seconds: number } | null = null
  return {
    is: () => rest !== null,
    rests: () => rest !== null && monotonic() < rest.until,
    grew: () => {
      const seconds = rest === null ? REST_SECONDS.first : Math.min(REST_SECONDS.last, rest.seconds * 2)
      rest = { until: monotonic() + seconds, seconds }
    },
    over: () => (rest = null),
    retry: () => (rest = rest === null ? null : { ...rest, until: 0 }),
  }
}

/** Undefined when it takes longer. */
async function within<Out>(milliseconds: number, work: Promise<Out>): Promise<Out | undefined> {
  const over = new AbortController()
  const late = wait(milliseconds, undefined, { signal: over.signal }).catch(() => undefined)
  try {
    return await Promise.race([work, late])
  } finally {
    over.abort()
  }
}
