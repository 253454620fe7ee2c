// A rig that a test plays: let in at a hub's second listener, it says what it is told to and hands on what people answer. Not a test by itself.
import { createPinnedClient, pairRig } from '@guardband/link/pinned-client'
import type { Hub } from '@guardband/hub'
import { ROUTES, SYNC_ROUTES, type Ask, type LiveState } from '@guardband/model'

export interface ScriptedRig {
  /** Says what changed of its state; returns what people said since. */
  readonly say: (change: Partial<LiveState>, clock?: { readonly offset: number; readonly within: number }) => Promise<{ readonly answers: readonly { readonly ask: string; readonly answer: string; readonly who: string; readonly via: string }[]; readonly stop: boolean }>
  readonly close: () => void
}

export async function scriptedRig(at: { readonly url: string; readonly fingerprint: string; readonly code: string; readonly name: string; readonly now: () => number }): Promise<ScriptedRig> {
  const { url, fingerprint, name } = at
  const token = await pairRig({ url, fingerprint, code: at.code, name })
  const client = createPinnedClient(fingerprint)
  let state: LiveState = {
    rig: name, plan: { id: 'night', title: 'Night of eight tunes', hash: 'a'.repeat(64) }, state: 'at work', message: null,
    step: { id: 'run-7', kind: 'run', name: 'code build', tune: 'quiet 65 W', since: new Date(at.now() - 252_000).toISOString() },
    done: 14, left: 22, minutesLeft: 96, journal: null, ask: null, last: [],
  }
  return {
    say: async (change, clock) => {
      state = { ...state, ...change }
      const reply = await client.request({ url: new URL(SYNC_ROUTES.state.path, url).href, method: 'POST', headers: { authorization: `Bearer ${token}`, 'content-type': 'application/json' }, body: JSON.stringify({ state, clock: clock ?? null }) })
      if (reply.status !== 200) throw new Error(`the hub must take a state; got ${reply.status} ${reply.bytes.toString('utf8')}`)
      return SYNC_ROUTES.state.output.parse(JSON.parse(reply.bytes.toString('utf8')))
    },
    close: client.close,
  }
}

/** What a person reads off Lab, Devices for the next device. */
export async function letInByPage(hub: Pick<Hub, 'url' | 'newOpenUrl'>): Promise<{ readonly code: string; readonly fingerprint: string }> {
  const door = await fetch(hub.newOpenUrl(), { redirect: 'manual' })
  const cookie = door.headers.getSetCookie()[0]?.split(';')[0] ?? ''
  const headers = { cookie, origin: new URL(hub.url).origin, 'content-type': 'application/json' }
  const read = async (path: string, init: RequestInit): Promise<unknown> => (await fetch(new URL(path, hub.url), { headers, ...init })).json()
  const { listener } = ROUTES.devices.output.parse(await read(ROUTES.devices.path, {}))
  const { code } = ROUTES.newPairing.output.parse(await read(ROUTES.newPairing.path, { method: 'POST', body: '{}' }))
  if (listener.state !== 'on') throw new Error('the hub must listen for rigs; got a listener that is off')
  return { code, fingerprint: listener.fingerprint }
}

export function ask(id: string, kind: Ask['kind'], more: Partial<Ask> & { readonly text: string; readonly since: string }): Ask {
  return { id, kind, step: 'tune quiet 65 W', words: [], unit: null, lines: [], picture: false, ...more }
}
