// Two rigs hand their journals over to one workspace while its hub is killed every few seconds: each record comes exactly once.
import { spawn, type ChildProcess } from 'node:child_process'
import { once } from 'node:events'
import { mkdirSync, mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { createServer } from 'node:net'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { createInterface } from 'node:readline'
import { setTimeout } from 'node:timers/promises'
import { afterAll, expect, it } from 'vitest'
import { createIdFactory, decodeJournal, planHash } from '@guardband/model'
import { openLab } from '@guardband/lab'
import { pairRig } from '@guardband/link/pinned-client'
import { approvalOf, createApprovalCheck, createTerminal, listCommands, nodeDisk, readPlan, runPlan } from '@guardband/rig'
import { createFileHasher } from '@guardband/rig/file-hash'
import { createPlaceClient, type PlaceClient } from '@guardband/rig/sync/place-client'
import { pushFolder } from '@guardband/rig/sync/push'
import { createRigLink } from '@guardband/rig/sync/rig-link'
import { realSources } from './real-page.ts'

/** More of them by hand: each kills the hub at another moment. */
const KILLS = Number(process.env['GUARDBAND_KILLS'] ?? 5)
const HUB = join(import.meta.dirname, 'phone-hub.ts')
const root = mkdtempSync(join(tmpdir(), 'guardband-two-rigs-'))
const hubs: ChildProcess[] = []
afterAll(() => {
  for (const hub of hubs) hub.kill('SIGKILL')
  rmSync(root, { recursive: true, force: true })
})

it(`brings each record of both once, though the hub was killed ${KILLS} times`, { timeout: 300_000 }, async () => {
  const port = await freePort()
  mkdirSync(join(root, 'web'))
  let hub = await startHub(port)
  const rigs = []
  for (const name of ['north bench', 'south bench']) {
    rigs.push(startRig(name, createPlaceClient({ origin: hub.origin, fingerprint: hub.fingerprint, name: 'hub', token: await pairRig({ url: hub.origin, fingerprint: hub.fingerprint, code: await hub.ask('code'), name }) }, SOURCES)))
  }
  let running = true
  const ends = Promise.all(rigs.map(({ ended }) => ended)).finally(() => (running = false))
  let kills = 0
  // Moments drawn from the golden ratio: spread over a second without a pattern.
  for (; running && kills < KILLS; kills++) {
    await setTimeout(700 + ((kills * 0.618) % 1) * 1000)
    hub.process.kill('SIGKILL')
    await once(hub.process, 'exit')
    hub = await startHub(port)
  }
  for (const { stop } of rigs) stop()
  const results = await ends
  expect(results.map(({ outcome }) => outcome).every((outcome) => outcome === 'finished' || outcome === 'stopped by a person')).toBe(true)
  expect(kills).toBe(KILLS)
  for (const { client, folder } of rigs) {
    const { remarks } = await pushFolder(client, nodeDisk, { journalFolder: join(folder, 'rig', 'journals'), keptFolder: join(folder, 'rig', 'kept'), sent: new Set() })
    expect(remarks).toEqual([])
    client.close()
  }
  hub.process.kill('SIGKILL')
  await once(hub.process, 'exit')

  const lab = openLab(join(root, 'lab'), realSources)
  const wanted = rigs.flatMap(({ folder, name }) => runsOf(join(folder, 'rig', 'journals')).map((run) => `${name} ${run}`))
  expect(wanted.length).toBeGreaterThan(20)
  const plans = new Set(['north bench', 'south bench'])
  const booked = lab.runs({ from: 0, count: 5000 }).rows.filter(({ rig }) => plans.has(rig ?? '')).map(({ id, rig, outcome }) => `${rig ?? ''} ${id} ${outcome}`)
  expect(booked.toSorted()).toEqual(wanted.toSorted())
  for (const { folder } of rigs) for (const file of readdirSync(join(folder, 'rig', 'journals'))) expect(readFileSync(join(root, 'lab', 'journals', file)).equals(readFileSync(join(folder, 'rig', 'journals', file)))).toBe(true)
  expect(lab.check()).toEqual([])
  await lab.close()
})

const now = (): number => Date.now()
const SOURCES = { now, monotonic: () => performance.now() / 1000, newId: createIdFactory({ now, fillRandom: (bytes) => void crypto.getRandomValues(bytes) }) }

const shell = (script: string): { readonly run: readonly string[] } => ({ run: ['sh', '-c', script] })

function startRig(name: string, client: PlaceClient) {
  const folder = join(root, name.replace(' ', '-'))
  mkdirSync(folder)
  const json = {
    schema: 1, id: name.replace(' ', '-'), title: `Two limits on ${name}`, rig: name, assembly: [{ slot: 'processor', part: 'Quillon 14', sample: `Q14 of ${name}` }],
    tunes: [65, 95].map((watts) => ({ name: `${watts} W`, apply: shell(`echo ${watts} > limit`), readBack: [{ key: 'power limit', command: shell('cat limit'), reading: { pattern: '(.*)' }, expected: watts }] })),
    workloads: [{ name: 'photo stack', command: shell('sleep 0.05; echo "score: $(cat limit)"'), measures: [{ name: 'score', unit: 'points', direction: 'higher is better', reading: { pattern: 'score: (\\S+)' } }] }],
    design: { tunes: ['65 W', '95 W'], workloads: ['photo stack'], startsPerTune: 500, repeats: 3 },
  }
  writeFileSync(join(folder, 'plan.json'), JSON.stringify(json))
  const plan = readPlan(JSON.stringify(json), 'plan.json')
  const base = { PATH: process.env['PATH'] ?? '', HOME: folder }
  const store = { approvals: [approvalOf(listCommands(plan, folder, base), { at: '2026-11-01T00:00:00Z', plan: plan.id, code: '00000000' })] }
  const stop = new AbortController()
  const journalFolder = join(folder, 'rig', 'journals')
  const { link } = createRigLink({ clients: [client], rig: name, plan: { id: plan.id, title: plan.title, hash: planHash(plan) }, journalFolder, keptFolder: join(folder, 'rig', 'kept'), disk: nodeDisk, sources: SOURCES, onStop: () => undefined, say: () => undefined })
  // The client is closed with the link; the last push of the test opens its line anew.
  const ended = runPlan({
    plan, planFolder: folder, rigFolder: join(folder, 'rig'), link, disk: nodeDisk, signal: stop.signal, attendance: 'unattended',
    sources: { ...SOURCES, bootId: 'boot-1', uptime: () => 1, sleep: (milliseconds, signal) => setTimeout(milliseconds, undefined, { signal }) },
    terminal: { ...createTerminal(), interactive: false, say: () => undefined },
    approvals: createApprovalCheck({ store, planFolder: folder, base, hash: createFileHasher() }),
  })
  return { name, folder, client, ended, stop: () => stop.abort() }
}

/** Run ids with their outcomes, as the rig's own files say. */
function runsOf(folder: string): readonly string[] {
  const bodies = readdirSync(folder).toSorted().flatMap((file) => decodeJournal(readFileSync(join(folder, file))).entries.map(({ body }) => body))
  return bodies.flatMap((body) => (body.type === 'end' ? [`${body.runId} ${body.outcome}`] : []))
}

async function startHub(port: number) {
  const hub = spawn(process.execPath, [HUB, join(root, 'lab'), join(root, 'web'), String(port), '1'], { stdio: ['pipe', 'pipe', 'pipe'] })
  hubs.push(hub)
  const lines = createInterface({ input: hub.stdout })[Symbol.asyncIterator]()
  const next = async (): Promise<string> => {
    const line = await lines.next()
    if (line.done === true) throw new Error('the hub ended before it said anything')
    return line.value
  }
  const { phonesUrl, fingerprint } = JSON.parse(await next()) as { readonly phonesUrl: string; readonly fingerprint: string }
  return {
    process: hub,
    origin: new URL(phonesUrl).origin,
    fingerprint,
    ask: (what: string): Promise<string> => {
      hub.stdin.write(`${what}\n`)
      return next()
    },
  }
}

async function freePort(): Promise<number> {
  const server = createServer().listen(0, '127.0.0.1')
  await once(server, 'listening')
  const address = server.address()
  server.close()
  if (address === null || typeof address === 'string') throw new Error('a listening server has a port')
  return address.port
}
