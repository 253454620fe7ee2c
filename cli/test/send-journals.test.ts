// `guardband rig send`: let in once by code and fingerprint, known from then on, and refused where the certificate is another.
import { mkdtempSync, rmSync, statSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import { startHub, type Hub } from '@guardband/hub'
import { createLab, type Lab } from '@guardband/lab'
import { createIdFactory } from '@guardband/model'
import { sendJournals, type SendOptions } from '../send-journals.ts'
import type { Terminal } from '../terminal.ts'

const root = mkdtempSync(join(tmpdir(), 'guardband-send-'))
const fillRandom = (bytes: Uint8Array): void => void crypto.getRandomValues(bytes)
const said: string[] = []
const say = (line: string): void => void said.push(line)
const terminal: Terminal = {
  out: say, err: say, progress: () => undefined, env: { XDG_STATE_HOME: join(root, 'state') }, folder: root, width: 80, zone: 'UTC', now: wallClock, fillRandom, who: 'Ada', setExitCode: () => undefined, ended: () => new Promise(() => undefined),
}
let lab: Lab
let hub: Hub
let to: string
let fingerprint: string
let cookie: string

beforeAll(async () => {
  lab = createLab(join(root, 'lab'), { name: 'Hollin & Pike', currency: '', simulated: true }, { now: wallClock, newId: createIdFactory({ now: wallClock, fillRandom }) })
  hub = await startHub({ lab, host: '127.0.0.1', port: 0, webFolder: root, who: 'Ada', keysFolder: join(root, 'keys'), sources: { now: wallClock, fillRandom, say }, createOwnLab: () => Promise.resolve(lab) })
  to = await hub.listenForPhones({ address: '127.0.0.1', port: 0 })
  cookie = (await fetch(hub.url)).headers.getSetCookie()[0]?.split(';')[0] ?? ''
  const { listener } = (await (await fetch(`http://127.0.0.1:${hub.port}/api/devices`, { headers: { cookie } })).json()) as { readonly listener: { readonly fingerprint: string } }
  fingerprint = listener.fingerprint
  writeFileSync(join(root, 'first.journal'), 'no journal')
})
afterAll(async () => {
  await hub.close()
  rmSync(root, { recursive: true, force: true })
})

async function newCode(): Promise<string> {
  const headers = { cookie, origin: `http://127.0.0.1:${hub.port}`, 'content-type': 'application/json' }
  return ((await (await fetch(`http://127.0.0.1:${hub.port}/api/devices/pairing`, { method: 'POST', headers, body: '{}' })).json()) as { readonly code: string }).code
}

function wallClock(): number {
  return Date.now()
}

const send = (options: Partial<SendOptions> = {}): Promise<void> => sendJournals(terminal, { paths: ['first.journal'], to, code: undefined, fingerprint: undefined, ...options })

describe('rig send', () => {
  it('says how to be let in, tells no code to a hub whose fingerprint nobody gave, and nothing to one that has another', async () => {
    await expect(send()).rejects.toMatchObject({ code: 'not-paired' })
    await expect(send({ code: 'AAAA-AAAA' })).rejects.toMatchObject({ code: 'no-fingerprint' })
    await expect(send({ code: await newCode(), fingerprint: 'ab'.repeat(32) })).rejects.toMatchObject({ code: 'other-certificate' })
    expect(lab.devices.list()).toEqual([])
  })

  it('is let in once, hands in, and needs neither code nor fingerprint after', async () => {
    await send({ code: await newCode(), fingerprint })
    expect(said.some((line) => line.includes('this is no journal'))).toBe(true)
    expect(statSync(join(root, 'state', 'guardband', 'hubs.json')).mode & 0o777).toBe(0o600)
    said.length = 0
    await send()
    expect(said.at(-1)).toBe('1 journal handed in; 0 runs new to the hub.')
  })

  it('is refused once it was revoked', async () => {
    for (const { id } of lab.devices.list()) lab.devices.revoke(id)
    await expect(send()).rejects.toMatchObject({ code: 'not-sent', message: 'This device has not been let in.' })
  })
})
