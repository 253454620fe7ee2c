// The way to the hub for what rigs ask: reads, sends an answer, and says what came of it.
import type { LiveReply, PHONE_LIVE_ROUTES } from '@guardband/model/api/live'
import type { GivenHere, LiveNeeds, LiveRead, LiveSent } from './live-desk.ts'

export async function readLive(): Promise<LiveRead> {
  try {
    const reply = await fetch(LIVE_PATHS.liveRigs, { signal: AbortSignal.timeout(PATIENCE_MS) })
    // Whether this phone is let in is said by the view's own reading.
    if (!reply.ok) return { result: 'silent' }
    return { result: 'read', reply: (await reply.json()) as LiveReply }
  } catch {
    return { result: 'silent' }
  }
}

export async function sendAnswer({ device, ask, answer }: GivenHere): Promise<LiveSent> {
  try {
    const path = LIVE_PATHS.answerRig.replace(':device', device)
    const reply = await fetch(path, { method: 'POST', headers: { 'content-type': 'application/json' }, body: JSON.stringify({ ask, answer }), signal: AbortSignal.timeout(PATIENCE_MS) })
    if (reply.status === 200) return { result: 'read', reply: (await reply.json()) as LiveReply }
    if (reply.status === 401 || reply.status >= 500) return { result: 'silent' }
    const told = (await reply.json()) as { readonly code?: unknown; readonly sentence?: unknown }
    return { result: 'refused', code: typeof told.code === 'string' ? told.code : '', sentence: typeof told.sentence === 'string' ? told.sentence : `it gave no reason (status ${reply.status}).` }
  } catch {
    return { result: 'silent' }
  }
}

/** Outlives a reload; an answer is short. */
export const answerStore: LiveNeeds['store'] = {
  load: () => {
    try {
      const held: unknown = JSON.parse(localStorage.getItem(KEY) ?? '[]')
      // Written by this page alone.
      return Array.isArray(held) ? (held as readonly GivenHere[]) : []
    } catch {
      return []
    }
  },
  save: (unsent) => {
    try {
      localStorage.setItem(KEY, JSON.stringify(unsent))
    } catch {
      // It then lasts until the page is closed, before which the page asks.
    }
  },
}

/** As the contract has them; spelt out here, since its schemas would double the weight of the page. A test holds them against it. */
export const LIVE_PATHS = { liveRigs: '/bench/rigs', answerRig: '/bench/rigs/:device/answer' } as const satisfies { readonly [Name in keyof typeof PHONE_LIVE_ROUTES]: string }

const KEY = 'guardband-bench.answers'
const PATIENCE_MS = 15_000
