// A real hub whose second listener is on, a sheet to work off, and devices that talk to it over TLS.
import { mkdirSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { PHONE_LIVE_ROUTES, PHONE_ROUTES, SYNC_ROUTES, type ChangeItem, type DevicesState, type Sheet } from '@guardband/model'
import { pairRig, pinnedRequest, type PinnedReply } from '@guardband/link/pinned-client'
import { startTestHub, testSources, type TestHub } from '../test-hub.ts'

export interface SecondHub extends TestHub {
  readonly url: string
  readonly fingerprint: string
  readonly sheet: Sheet
  readonly state: () => Promise<DevicesState>
  readonly newCode: () => Promise<string>
  /** One request over TLS, as nobody in particular. */
  readonly call: (path: string, options?: { readonly method?: 'GET' | 'POST'; readonly headers?: Readonly<Record<string, string>>; readonly body?: string | Uint8Array }) => Promise<PinnedReply>
  readonly pairPhone: (name?: string) => Promise<Phone>
  readonly pairRig: (name?: string) => Promise<string>
}

export interface Phone {
  /** As the browser got it. */
  readonly setCookie: string
  readonly headers: Readonly<Record<string, string>>
  readonly get: (path: string) => Promise<PinnedReply>
  readonly post: (path: string, body: unknown) => Promise<PinnedReply>
}

export const FORM = { 'content-type': 'application/x-www-form-urlencoded' }

export async function startSecondHub(): Promise<SecondHub> {
  const test = await startTestHub()
  const sheet = putSheet(test)
  mkdirSync(join(test.root, 'web', 'phone', 'assets'), { recursive: true })
  writeFileSync(join(test.root, 'web', 'phone', 'index.html'), '<!doctype html><title>bench view</title>')
  writeFileSync(join(test.root, 'web', 'phone', 'assets', 'phone-1a2b.js'), 'export const phone = 1\n')
  const state = async (): Promise<DevicesState> => JSON.parse((await test.get('/api/devices')).text) as DevicesState
  // Port 0 is not for people; the hub itself takes any free one.
  await test.hub.listenForPhones({ address: '127.0.0.1', port: 0 })
  const { listener } = await state()
  if (listener.state !== 'on') throw new Error('the second listener must be on')
  const { url, fingerprint } = listener
  const origin = url.slice(0, -1)
  const call: SecondHub['call'] = (path, options = {}) => pinnedRequest({ url: `${origin}${path}`, fingerprint, ...options })
  const newCode = async (): Promise<string> => (JSON.parse((await test.post('/api/devices/pairing')).text) as { code: string }).code
  return {
    ...test, url, fingerprint, sheet, state, call, newCode,
    pairPhone: async (name = 'old phone') => {
      const reply = await call('/pair', { method: 'POST', headers: { ...FORM, origin }, body: new URLSearchParams({ code: await newCode(), name }).toString() })
      const setCookie = [reply.headers['set-cookie'] ?? ''].flat()[0]
      if (reply.status !== 303) throw new Error(`the phone must be let in; got ${reply.status} ${reply.bytes.toString()}`)
      const headers = { cookie: setCookie.split(';')[0], origin }
      return {
        setCookie, headers,
        get: (path) => call(path, { headers }),
        post: (path, body) => call(path, { method: 'POST', headers: { ...headers, 'content-type': 'application/json' }, body: JSON.stringify(body) }),
      }
    },
    pairRig: async (name = 'south bench') => pairRig({ url, fingerprint, code: await newCode(), name }),
  }
}

/** An entry as a phone sends it: the sheet's first start, begun. */
export function beginEntry({ sheet, lab }: Pick<SecondHub, 'sheet' | 'lab'>, request = testSources().newId()): { readonly labId: string; readonly request: string; readonly what: string; readonly items: readonly ChangeItem[] } {
  const planned = sheet.starts[0]
  const assembly = lab.list('assembly')[0]
  const after = { kind: 'start', id: planned.startId, rigId: sheet.rigId, assemblyId: assembly.id, tuneId: planned.tuneId, at: '2026-03-03T08:00:00Z', how: planned.how, result: 'started', conditions: {} } as const
  return { labId: lab.info().lab.id, request, what: 'Began start 1', items: [{ before: null, after }] }
}

export const BENCH_PATHS = [...Object.values(PHONE_ROUTES), ...Object.values(PHONE_LIVE_ROUTES), ...Object.values(SYNC_ROUTES)].map(({ method, path }) => ({ method, path }))

function putSheet({ lab }: TestHub): Sheet {
  const { newId } = testSources()
  const [sampleId, rigId, tunes, workload] = [lab.list('sample')[0].id, lab.list('rig')[0].id, lab.list('tune'), lab.list('workload')[0]]
  const sheet: Sheet = {
    kind: 'sheet', id: newId(), name: 'field work, first day', rigId, at: '2026-03-03T07:00:00Z', workloadIds: [workload.id], repeats: 2, conditions: {},
    starts: [0, 1, 2].map((place) => ({ startId: newId(), tuneId: tunes[place % 2].id, how: 'cold', slots: [{ slot: 'processor', sampleId }] })),
  }
  lab.apply({ who: 'test', what: 'a sheet', items: [{ before: null, after: sheet }] })
  return sheet
}
