// Kills the hub without warning at random moments while the grid's own desk and outbox enter, correct and take back: nothing shown as saved is lost, nothing is doubled.
import { spawn, type ChildProcess } from 'node:child_process'
import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, describe, expect, it } from 'vitest'
import { createLab, openLab, type LabSources } from '@guardband/lab'
import { canonicalJson, createIdFactory, errorReplySchema, ROUTES, sheetProgress, type ChangeItem, type Sheet, type SheetWhole } from '@guardband/model'
import { HubError } from '@guardband/web/hub/client'
import { createOutbox, type Outbox, type OutboxEntry, type OutboxStore } from '@guardband/web/hub/outbox'
import { createDesk, type Desk, type Made } from '@guardband/web/pages/enter/desk'
import { dayLab, type DayLab } from './entry-day.ts'

const KILLS = Number(process.env['GUARDBAND_KILLS'] ?? '100')
const SEED = Number(process.env['GUARDBAND_SEED'] ?? Date.now() % 1_000_000)
/** Two workspaces at once, so that one hub starts while the other is being killed. */
const LANES = 2
/** Entering goes on for at most this long before the kill falls. */
const LONGEST_MS = 150
/** As fast as a person can hardly press. */
const PRESS_MS = 4
const PROCESS = join(import.meta.dirname, '..', '..', 'hub', 'test', 'hub-process.ts')

const root = mkdtempSync(join(tmpdir(), 'guardband-entry-kill-'))
afterAll(() => rmSync(root, { recursive: true, force: true }))

function fillRandom(bytes: Uint8Array): void {
  crypto.getRandomValues(bytes)
}

function labSources(): LabSources {
  return { now: () => Date.now(), newId: createIdFactory({ now: () => Date.now(), fillRandom }) }
}

/** Linear congruential, so that a failing seed can be run again. */
function seeded(seed: number): () => number {
  let state = seed >>> 0
  return () => {
    state = (Math.imul(state, 1_664_525) + 1_013_904_223) >>> 0
    return state / 2 ** 32
  }
}

interface HubNow {
  readonly child: ChildProcess
  readonly origin: string
  readonly cookie: string
}

async function startHubProcess(folder: string): Promise<HubNow> {
  const child = spawn(process.execPath, ['--disable-warning=ExperimentalWarning', PROCESS, folder], { stdio: ['ignore', 'pipe', 'pipe'] })
  let errors = ''
  child.stderr?.on('data', (part: Buffer) => (errors += part.toString()))
  const url = await new Promise<string>((resolve, reject) => {
    child.stdout?.once('data', (part: Buffer) => resolve(part.toString().trim()))
    child.once('exit', () => reject(new Error(`the hub must start again after a kill; got: ${errors}`)))
  })
  const door = await fetch(url, { redirect: 'manual' })
  const cookie = door.headers.get('set-cookie')?.split(';')[0] ?? ''
  return { child, origin: new URL(url).origin, cookie }
}

async function post(hub: HubNow, path: string, body: unknown): Promise<number> {
  let response: Response
  let reply: unknown
  try {
    response = await fetch(hub.origin + path, { method: 'POST', headers: { cookie: hub.cookie, origin: hub.origin, 'sec-fetch-site': 'same-origin', 'content-type': 'application/json' }, body: JSON.stringify(body) })
    reply = await response.json()
  } catch {
    throw new HubError('hub-silent', 'The hub does not answer.')
  }
  if (response.ok) return ROUTES.apply.output.parse(reply).change
  const told = errorReplySchema.parse(reply)
  throw new HubError(told.code, told.sentence)
}

function sheetOf(day: DayLab, newId: () => string): Sheet {
  const [rig] = day.records.filter((record) => record.kind === 'rig')
  return {
    kind: 'sheet', id: newId(), name: 'a day', rigId: rig.id, at: '2026-11-03T08:00:00Z', workloadIds: day.workloads.map(({ id }) => id), repeats: 2, conditions: {},
    starts: Array.from({ length: 400 }, (_, place) => ({ startId: newId(), tuneId: day.tunes[place % 2], how: 'cold' as const, slots: [{ slot: 'processor' as const, sampleId: day.samples[Math.floor(place / 4) % day.samples.length] }] })),
  }
}

/** The records of the entries, by id, as canonical text. */
function recordsOf(changes: readonly (readonly ChangeItem[])[]): ReadonlyMap<string, string> {
  const held = new Map<string, string>()
  for (const items of changes) {
    for (const { before, after } of items) {
      if (before !== null) held.delete(before.id)
      if (after !== null) held.set(after.id, canonicalJson(after))
    }
  }
  return held
}

function textsOf(records: readonly object[]): readonly string[] {
  return records.map((record) => canonicalJson(record)).toSorted()
}

interface Lane {
  readonly entered: number
  readonly faults: readonly string[]
}

async function runLane(name: string, kills: number): Promise<Lane> {
  const folder = join(root, name)
  const sources = labSources()
  const day = dayLab(sources.newId)
  const sheet = sheetOf(day, sources.newId)
  const random = seeded(SEED + name.length + kills)
  const first = createLab(folder, { name, currency: '', who: 'test', records: [...day.records, sheet] }, sources)
  const labId = first.info().lab.id
  const headBefore = first.head()
  await first.close()

  let hub: HubNow | undefined
  const held = new Map<string, string>()
  const store: OutboxStore = { keys: () => [...held.keys()], get: (key) => held.get(key) ?? null, set: (key, text) => void held.set(key, text), remove: (key) => void held.delete(key) }
  const saved: (readonly ChangeItem[])[] = []
  const faults: string[] = []
  let made: readonly Made[] = []
  let entered = 0

  const send = ({ request, act }: OutboxEntry): Promise<number> => {
    if (hub === undefined) return Promise.reject(new HubError('hub-silent', 'The hub does not answer.'))
    return act.kind === 'take back' ? post(hub, '/api/take-back', { request: act.entry }) : post(hub, '/api/changes', { request, what: act.what, items: act.items })
  }
  /** As the page reads it: from the disk. */
  const read = async (): Promise<SheetWhole> => {
    const lab = openLab(folder, sources)
    const starts = sheet.starts.flatMap(({ startId }) => lab.list('start').filter(({ id }) => id === startId))
    const within = starts.flatMap(({ id }) => lab.ofStart(id))
    const whole = { head: lab.head(), sheet, starts, inForce: within.filter((record) => record.kind === 'in force'), runs: within.filter((record) => record.kind === 'run'), assemblies: lab.list('assembly'), mounts: lab.list('mount') }
    await lab.close()
    return { ...whole, assemblies: [...whole.assemblies], mounts: [...whole.mounts] }
  }
  const open = async (): Promise<{ readonly desk: Desk; readonly outbox: Outbox }> => {
    const outbox = createOutbox({ labId, store, send, alone: (_name, work) => work(), later: () => undefined })
    const desk = createDesk({ whole: await read(), outbox, names: () => ({ workloads: day.workloads, tuneName: () => 'a tune' }), newId: sources.newId, now: () => Date.now(), read, made, keepMade: (kept) => (made = kept) })
    desk.open()
    outbox.listen((event) => {
      if (event.type === 'saved') saved.push(event.entry.act.items)
    })
    return { desk, outbox }
  }
  const act = (desk: Desk): void => {
    const { records } = desk.state()
    const chance = random()
    const last = records.runs.toSorted((a, b) => (a.id < b.id ? -1 : 1)).at(-1)
    if (chance < 0.1 && desk.takeBack() !== null) return void (entered += 1)
    const { next } = sheetProgress(sheet, records)
    if (next === null) return
    const startId = next.planned.startId
    const value = Math.round(random() * 10_000) / 100 + 1
    if (chance < 0.2 && last !== undefined) desk.enter({ what: 'correct run', runId: last.id, outcome: 'scored', measures: [{ name: 'time', value }] })
    else if (chance < 0.25 && !records.starts.some(({ id }) => id === startId)) desk.enter({ what: 'start failed', startId, result: 'no start' })
    else desk.enter({ what: 'run', startId, workloadId: next.workloadId, outcome: chance > 0.95 ? 'hung' : 'scored', measures: chance > 0.95 ? [] : [{ name: 'time', value }] })
    entered += 1
  }

  let { desk, outbox } = await open()
  for (let kill = 0; kill < kills; kill++) {
    hub = await startHubProcess(folder)
    const { child } = hub
    const gone = new Promise<void>((resolve) => child.once('exit', () => resolve()))
    let dead = false
    setTimeout(() => {
      child.kill('SIGKILL')
      dead = true
    }, random() * LONGEST_MS)
    void outbox.flush()
    while (!dead) {
      act(desk)
      // Between presses the replies come in.
      await new Promise((resolve) => setTimeout(resolve, PRESS_MS))
    }
    await gone
    hub = undefined
    await outbox.flush()

    const lab = openLab(folder, sources)
    for (const finding of lab.check()) faults.push(`kill ${kill}: ${finding.place}: ${finding.sentence}`)
    const waiting = outbox.entries()
    for (const entry of waiting) if (entry.state !== 'waiting') faults.push(`kill ${kill}: ${entry.state}: ${entry.sentence ?? ''}`)
    // Of what is not yet shown as saved, the first may have reached the disk before the hub died.
    const known = new Set([...day.records.map(({ id }) => id), sheet.id])
    const onDisk = new Map([...lab.list('start'), ...lab.list('in force'), ...lab.list('run'), ...lab.list('assembly'), ...lab.list('mount')].filter(({ id }) => !known.has(id)).map((record) => [record.id, canonicalJson(record)]))
    const allowed = [saved, [...saved, ...waiting.slice(0, 1).map(({ act: one }) => one.items)]].map(recordsOf)
    if (!allowed.some((records) => records.size === onDisk.size && [...records].every(([id, text]) => onDisk.get(id) === text))) faults.push(`kill ${kill}: the disk holds ${onDisk.size} records that are not those shown as saved`)
    await lab.close()
    // Every other time the page is loaded anew with what the browser kept.
    if (random() < 0.5) ({ desk, outbox } = await open())
  }
  hub = await startHubProcess(folder)
  await outbox.flush()
  const after = hub.child
  const ended = new Promise<void>((resolve) => after.once('exit', () => resolve()))
  after.kill('SIGKILL')
  await ended
  const lab = openLab(folder, sources)
  if (outbox.entries().length > 0) faults.push(`${outbox.entries().length} entries are left over`)
  // One change in the log for each thing entered, no more and no fewer.
  if (lab.head() - headBefore !== entered) faults.push(`${lab.head() - headBefore} changes for ${entered} entries`)
  const whole = await read()
  const shown = desk.state().records
  for (const kind of ['starts', 'inForce', 'runs'] as const) {
    if (canonicalJson(textsOf(whole[kind])) !== canonicalJson(textsOf(shown[kind]))) faults.push(`the page shows other ${kind} than the disk holds`)
  }
  await lab.close()
  return { entered, faults }
}

describe('entries while the hub is killed', () => {
  it(`are neither lost once shown as saved nor doubled, at ${KILLS} random moments (GUARDBAND_SEED=${SEED})`, { timeout: 900_000 }, async () => {
    const lanes = await Promise.all(Array.from({ length: LANES }, (_, lane) => runLane(`lane-${lane}`, Math.ceil((KILLS - lane) / LANES))))
    expect(lanes.flatMap(({ faults }) => faults)).toEqual([])
    // The test proves nothing unless most kills fell among entries.
    expect(lanes.reduce((sum, { entered }) => sum + entered, 0)).toBeGreaterThan(2 * KILLS)
  })
})
