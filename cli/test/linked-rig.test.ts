// A rig and the real hub, as a person works them: let in by code, asked on page and phone, stopped from the page, handed over by hand, and taken off.
import { once } from 'node:events'
import { existsSync, mkdirSync, mkdtempSync, readdirSync, readFileSync, rmSync, statSync, writeFileSync } from 'node:fs'
import { request } from 'node:https'
import { createServer, type AddressInfo } from 'node:net'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { setTimeout } from 'node:timers/promises'
import { afterAll, beforeAll, expect, it } from 'vitest'
import { startHub, type Hub } from '@guardband/hub'
import { createLab, type Lab } from '@guardband/lab'
import { decodeJournal, ROUTES, type JournalBody, type LiveRig } from '@guardband/model'
import { hubSources, realSources } from './real-page.ts'
import { runCli, type CliResult } from './run-cli.ts'
import { letInByPage } from './scripted-rig.ts'

const folder = mkdtempSync(join(tmpdir(), 'guardband-linked-'))
const place = { folder, env: { HOME: folder, XDG_CONFIG_HOME: '' } }
const cli = (...args: readonly string[]): Promise<CliResult> => runCli(place, 'rig', ...args)
const shell = (script: string): { readonly run: readonly string[] } => ({ run: ['sh', '-c', script] })
let lab: Lab
let hub: Hub
let phonesUrl: string
let origin: string

beforeAll(async () => {
  mkdirSync(join(folder, 'web'))
  lab = createLab(join(folder, 'lab'), { name: 'Hollin & Pike', currency: '', simulated: true }, realSources)
  hub = await startHub({ lab, host: '127.0.0.1', port: 0, webFolder: join(folder, 'web'), keysFolder: join(folder, 'keys'), who: 'Ada', sources: hubSources, createOwnLab: () => Promise.reject(new Error('no other workspace is made here')) })
  phonesUrl = await hub.listenForPhones({ address: '127.0.0.1', port: 0 })
  origin = new URL(phonesUrl).origin
}, 60_000)
afterAll(async () => {
  await hub.close()
  await lab.close()
  rmSync(folder, { recursive: true, force: true })
})

it('is let in by the code that is shown, and by nothing else; what it keeps of that is for its user alone', { timeout: 120_000 }, async () => {
  const { code, fingerprint } = await letInByPage(hub)
  const nobody = await freePort()
  const wrong = code.replace(/./, code.startsWith('A') ? 'B' : 'A')
  const told = async (url: string, ...args: readonly string[]): Promise<string> => {
    const { code: status, err } = await cli('pair', url, ...args)
    expect(status).not.toBe(0)
    return err
  }
  expect(await told(phonesUrl)).toContain('pairing needs the code and the fingerprint that are shown there')
  expect(await told('http://127.0.0.1:1', '--code', code, '--fingerprint', fingerprint)).toContain('the address must be https://ADDRESS:PORT')
  expect(await told(`https://127.0.0.1:${nobody}`, '--code', code, '--fingerprint', fingerprint)).toContain('Is it on, its second listener too')
  expect(await told(phonesUrl, '--code', code, '--fingerprint', 'ab:cd')).toContain('64 hex digits')
  expect(await told(phonesUrl, '--code', code, '--fingerprint', '0'.repeat(64))).toContain('another certificate than the one that was pinned; nothing was sent to it')
  expect(await told(phonesUrl, '--code', wrong, '--fingerprint', fingerprint)).toMatch(/code/)
  expect((await cli('paired')).out).toContain('let in nowhere')
  const spaced = fingerprint.replaceAll(/(....)/g, '$1 ').toUpperCase()
  expect(await cli('pair', origin, '--code', code.toLowerCase(), '--fingerprint', spaced)).toMatchObject({ code: 0, out: expect.stringContaining('Let in at "Hollin & Pike"') })
  // The same code once more lets nobody in.
  expect(await told(phonesUrl, '--code', code, '--fingerprint', fingerprint)).toMatch(/code/)
  const places = join(folder, '.config', 'guardband', 'places.json')
  expect([statSync(places).mode & 0o777, existsSync(places)]).toEqual([0o600, true])
  expect((await cli('paired')).out).toBe(`"Hollin & Pike"  ${origin}  certificate ${fingerprint.slice(0, 16)}…\n`)
})

it('asks page and phone what it can\'t do itself, and journals who answered', { timeout: 120_000 }, async () => {
  const phone = await letPhoneIn()
  const file = approved({
    id: 'asked', title: 'Two settings by hand', tunes: ['two', 'three'].map((name) => ({ name, readBack: [{ key: 'setting', command: shell('cat setting'), reading: { pattern: '(.*)' }, expected: 2 }] })),
    workloads: [workload('echo "score: 7"')], design: { tunes: ['two', 'three'], workloads: ['photo stack'], startsPerTune: 1, repeats: 1 },
  })
  writeFileSync(join(folder, 'setting'), '2\n')
  const ran = cli('run', await file, '--as-root')
  const first = await asking('Put the tune')
  await fetchPage(`/api/live/rigs/${first.device.id}/answer`, { ask: first.state.ask?.id, answer: '' })
  const second = await asking('Put the tune', first.state.ask?.id)
  expect((await phone(`/bench/rigs/${second.device.id}/answer`, { ask: second.state.ask?.id, answer: '' })).status).toBe(200)
  const { code, out, err } = await ran
  expect([code, err]).toEqual([0, ''])
  // Each start's journal was there to its end before the next one's: a place that sees them otherwise takes the rig for a copy.
  expect(out).not.toContain('perhaps an older copy')
  const answers = bodies('rig-asked').filter((body) => body.type === 'answer')
  expect(answers).toMatchObject([{ who: 'Ada', via: 'page' }, { who: 'phone of the north bench', via: 'phone' }])
  expect(heldAsWritten('rig-asked')).toBe(true)
})

it('is stopped from the page after the run in hand, and goes on only when a person runs it again', { timeout: 120_000 }, async () => {
  const file = await approved({ id: 'stopped', title: 'Many short runs', tunes: [tune('two', 2)], workloads: [workload('sleep 0.4; echo "score: 7"')], design: { tunes: ['two'], workloads: ['photo stack'], startsPerTune: 2, repeats: 12 } })
  const ran = cli('run', file, '--as-root')
  const rig = await seen(({ state }) => state.plan.id === 'stopped' && state.step?.kind === 'run')
  await fetchPage(`/api/live/rigs/${rig.device.id}/stop`, {})
  expect(await ran).toMatchObject({ code: 130, out: expect.stringContaining('stopped by a person') })
  const ends = bodies('rig-stopped').filter(({ type }) => type === 'end').length
  expect(ends).toBeLessThan(24)
  await seen(({ state }) => state.plan.id === 'stopped' && state.state === 'stopped')
  expect((await cli('run', file, '--as-root', '--unattended')).out).toContain('stop')
  expect(bodies('rig-stopped').filter(({ type }) => type === 'end')).toHaveLength(ends)
})

it('runs alone when told to, when its list of places is spoiled, and after it was taken off', { timeout: 120_000 }, async () => {
  const file = await approved({ id: 'alone', title: 'Alone', tunes: [tune('two', 2)], workloads: [workload('echo "score: 7"')], design: { tunes: ['two'], workloads: ['photo stack'], startsPerTune: 1, repeats: 1 } })
  expect((await cli('run', file, '--as-root', '--alone')).code).toBe(0)
  const places = join(folder, '.config', 'guardband', 'places.json')
  const kept = readFileSync(places)
  writeFileSync(places, '{"places":')
  expect(await cli('run', file, '--as-root')).toMatchObject({ code: 0, out: expect.stringContaining('can not be read') })
  expect(await cli('paired')).toMatchObject({ code: 1, err: expect.stringContaining('pair the rig anew') })
  writeFileSync(places, kept)
  expect(await cli('sync', 'rig-alone')).toMatchObject({ code: 0, out: expect.stringContaining('1 journal handed over') })
  expect(heldAsWritten('rig-alone')).toBe(true)
  expect((await cli('sync', 'rig-alone')).out).toContain(', 0 KiB of them new; 0 runs new to it')
  expect(lab.check()).toEqual([])
  expect((await cli('unpair', 'https://127.0.0.1:1')).err).toContain(`It is let in at ${origin}`)
  expect((await cli('unpair', origin)).out).toContain('is forgotten here')
  expect((await cli('run', file, '--as-root')).code).toBe(0)
  expect((await cli('sync', 'rig-alone')).err).toContain('this rig is let in nowhere')
  expect(ROUTES.liveRigs.output.parse(await fetchPage(ROUTES.liveRigs.path)).rigs.map(({ state }) => state.plan.id)).not.toContain('alone')
})

function tune(name: string, value: number) {
  return { name, apply: shell(`echo ${value} > setting`), readBack: [{ key: 'setting', command: shell('cat setting'), reading: { pattern: '(.*)' }, expected: value }] }
}

function workload(script: string) {
  return { name: 'photo stack', command: shell(script), measures: [{ name: 'score', unit: 'points', direction: 'higher is better', reading: { pattern: 'score: (\\S+)' } }] }
}

/** The name of a plan file that is written and approved. */
async function approved(plan: { readonly id: string } & Readonly<Record<string, unknown>>): Promise<string> {
  const file = `${plan.id}.json`
  writeFileSync(join(folder, file), JSON.stringify({ schema: 1, rig: 'north bench', assembly: [{ slot: 'processor', part: 'Quillon 14', sample: 'Q14-1' }], ...plan }))
  const code = /--code ([\w-]+)/.exec((await cli('approve', file)).out)?.[1] ?? ''
  expect((await cli('approve', file, '--code', code)).code).toBe(0)
  return file
}

function bodies(rigFolder: string): readonly JournalBody[] {
  const journals = join(folder, rigFolder, 'journals')
  return readdirSync(journals).toSorted().flatMap((name) => decodeJournal(readFileSync(join(journals, name))).entries.map(({ body }) => body))
}

function heldAsWritten(rigFolder: string): boolean {
  const journals = join(folder, rigFolder, 'journals')
  return readdirSync(journals).every((name) => readFileSync(join(folder, 'lab', 'journals', name)).equals(readFileSync(join(journals, name))))
}

let cookie = ''

async function fetchPage(path: string, body?: object): Promise<unknown> {
  cookie ||= (await fetch(hub.newOpenUrl(), { redirect: 'manual' })).headers.getSetCookie()[0]?.split(';')[0] ?? ''
  const headers = { cookie, origin: new URL(hub.url).origin, 'content-type': 'application/json' }
  const reply = await fetch(new URL(path, hub.url), body === undefined ? { headers } : { headers, method: 'POST', body: JSON.stringify(body) })
  expect(reply.status).toBe(200)
  return reply.json()
}

async function seen(fits: (rig: LiveRig) => boolean): Promise<LiveRig> {
  const until = Date.now() + 40_000
  for (;;) {
    const { rigs } = ROUTES.liveRigs.output.parse(await fetchPage(ROUTES.liveRigs.path))
    const rig = rigs.find(fits)
    if (rig !== undefined) return rig
    if (Date.now() > until) throw new Error(`no rig that fits was seen; got ${JSON.stringify(rigs.map(({ state }) => state))}`)
    await setTimeout(50)
  }
}

function asking(text: string, after?: string): Promise<LiveRig> {
  return seen(({ state: { ask } }) => ask !== null && ask.text.includes(text) && ask.id !== after)
}

/** Lets a phone in as its browser does, and returns what posts from it. */
async function letPhoneIn(): Promise<(path: string, body: object) => Promise<{ readonly status: number; readonly cookie: string }>> {
  const { code } = await letInByPage(hub)
  const own = await post('/pair', { type: 'application/x-www-form-urlencoded', body: new URLSearchParams({ code, name: 'phone of the north bench' }).toString(), cookie: '' })
  return (path, body) => post(path, { type: 'application/json', body: JSON.stringify(body), cookie: own.cookie })
}

function post(path: string, { type, body, cookie: own }: { readonly type: string; readonly body: string; readonly cookie: string }): Promise<{ readonly status: number; readonly cookie: string }> {
  return new Promise((resolve, reject) => {
    const headers = { 'content-type': type, 'content-length': String(Buffer.byteLength(body)), origin, cookie: own }
    const outgoing = request(new URL(path, phonesUrl), { method: 'POST', rejectUnauthorized: false, agent: false, headers }, (incoming) => {
      incoming.resume()
      resolve({ status: incoming.statusCode ?? 0, cookie: incoming.headers['set-cookie']?.[0]?.split(';')[0] ?? '' })
    })
    outgoing.on('error', reject)
    outgoing.end(body)
  })
}

async function freePort(): Promise<number> {
  const server = createServer().listen(0, '127.0.0.1')
  await once(server, 'listening')
  // A server that listens on a port has an address of this shape.
  const { port } = server.address() as AddressInfo
  server.close()
  return port
}
