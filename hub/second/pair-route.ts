// `/` and `/pair`: the one thing that a device can do which has not been let in.
import { getConnInfo } from '@hono/node-server/conninfo'
import type { Context, Hono } from 'hono'
import { z } from 'zod'
import { nameSchema, type Device } from '@guardband/model'
import type { AccessSources } from '../access.ts'
import { readBody } from '../body.ts'
import type { CurrentLab } from '../current-lab.ts'
import { refuse } from '../refusal.ts'
import { giveCookie, newToken, tokenHash, visitorOf, type DeviceKind } from './door.ts'
import { PAIRING_STYLE, PAIRING_STYLE_PATH, pairingPage } from './pairing-page.ts'
import type { Pairing } from '@guardband/link/pairing'

export interface PairNeeds {
  readonly current: CurrentLab
  readonly pairing: Pairing
  readonly port: () => number
  readonly sources: AccessSources
}

export function servePairing(app: Hono, { current, pairing, port, sources }: PairNeeds): void {
  app.get('/', (c) => (visitorOf(c, current, port()) === undefined ? c.html(pairingPage({ problem: null, name: '', paired: true })) : c.redirect('/bench')))
  app.get(PAIRING_STYLE_PATH, (c) => c.body(PAIRING_STYLE, 200, { 'content-type': 'text/css; charset=utf-8' }))
  app.post('/pair', async (c) => {
    const type = (c.req.header('content-type') ?? '').split(';')[0].trim().toLowerCase()
    const body = Buffer.from(await readBody(c, PAIR_LIMIT)).toString('utf8')
    const sent = requestSchema.safeParse(type === 'application/json' ? jsonOf(body) : Object.fromEntries(new URLSearchParams(body)))
    const kind: DeviceKind = type === 'application/json' ? 'rig' : 'phone'
    if (!sent.success) return told(c, kind, 400, { problem: 'A code and a name of at most 60 characters are needed.', name: '' })
    const { code, name } = sent.data
    const tried = pairing.try(code, getConnInfo(c).remote.address ?? '')
    if (tried.result === 'too often') {
      c.header('retry-after', String(tried.waitSeconds))
      return told(c, kind, 429, { problem: `Too many wrong codes. Try again in ${Math.ceil(tried.waitSeconds / 60)} min.`, name })
    }
    if (tried.result === 'wrong') return told(c, kind, 403, { problem: 'This is not the code, or its five minutes are over. A few wrong tries void it: look at the hub, and make a new one there if need be.', name })
    const token = newToken(kind, sources)
    const device = await current.use((lab): Device => lab.devices.add({ name, tokenHash: tokenHash(token) }))
    pairing.settle(device.name)
    if (kind === 'rig') return c.json({ token })
    giveCookie(c, port(), token)
    return c.redirect('/bench', 303)
  })
}

const requestSchema = z.object({ code: z.string().max(40), name: nameSchema.max(60) })

const PAIR_LIMIT = 4096

function told(c: Context, kind: DeviceKind, status: 400 | 403 | 429, { problem, name }: { readonly problem: string; readonly name: string }): Response | Promise<Response> {
  return kind === 'phone' ? c.html(pairingPage({ problem, name, paired: false }), status) : refuse(c, status, { code: 'pairing', sentence: problem })
}

function jsonOf(text: string): unknown {
  try {
    return JSON.parse(text)
  } catch {
    return undefined
  }
}
