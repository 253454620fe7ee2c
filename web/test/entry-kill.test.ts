// Kills the hub without warning at random moments while the grid's own desk and outbox enter, correct and take back: nothing shown as saved is lost, nothing is doubled.
import { spawn, type ChildProcess } from 'node:child_process'
import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, describe, expect, it } from 'vitest'
import { errorReplySchema, ROUTES } from '@guardband/model/api'
import { sheetWholeSchema, type SheetWhole } from '@guardband/model/api/sheets'
import type { ChangeItem } from '@guardband/model/change'
import { canonicalJson } from '@guardband/model/digest'
import { createIdFactory } from '@guardband/model/ids'
import { workloadSchema } from '@guardband/model/records/workload'
import { sheetProgress } from '@guardband/model/sheet'
import { z } from 'zod'
import { HubError } from '../hub/client.ts'
import { createOutbox, type Outbox, type OutboxEntry, type OutboxStore } from '../hub/outbox.ts'
import { createDesk, type Desk, type Made } from '../pages/enter/desk.ts'

/** With those of the phone, 100 in one run of all tests; more when asked for. */
const KILLS = Number(process.env['GUARDBAND_KILLS'] ?? '50')
const SEED = Number(process.env['GUARDBAND_SEED'] ?? Date.now() % 1_000_000)
/** Two workspaces at once, so that one hub starts while the other is being killed. */
const LANES = 2
const MOST_BEFORE = 12
const LONGEST_MS = 60
/** As fast as a person can hardly press. */
const PRESS_MS = 4
const HUB = join(import.meta.dirname, '..', '..', 'hub', 'test', 'hub-process.ts')
const LAB = join(import.meta.dirname, '..', '..', 'cli', 'test', 'entry-lab.ts')

const root = mkdtempSync(join(tmpdir(), 'guardband-entry-kill-'))
afterAll(() => rmSync(root, { recursive: true, force: true }))

const newId = createIdFactory({ now: () => Date.now(), fillRandom: (bytes) => void crypto.getRandomValues(bytes) })

const heldSchema = z.object({ labId: z.string(), findings: z.array(z.string()), workloads: z.array(workloadSchema), whole: sheetWholeSchema })
type Held = z.infer<typeof heldSchema>

/** What the workspace holds on disk, read by a process that knows nothing of the page. */
async function readLab(folder: string, act: 'make' | 'read' = 'read'): Promise<Held> {
  const child = spawn(process.execPath, ['--disable-warning=ExperimentalWarning', LAB, act, folder], { stdio: ['ignore', 'pipe', 'inherit'] })
  let text = ''
  for await (const part of child.stdout) text += String(part)
  return heldSchema.parse(JSON.parse(text))
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
  const child = spawn(process.execPath, ['--disable-warning=ExperimentalWarning', HUB, folder], { stdio: ['ignore', 'pipe', 'pipe'] })
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
  const random = seeded(SEED + name.length + kills)
  const first = await readLab(folder, 'make')
  const { labId, workloads, whole: bare } = first
  const { sheet, head: headBefore } = bare
  const known = new Set([...bare.assemblies, ...bare.mounts].map(({ id }) => id))

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
  const read = async (): Promise<SheetWhole> => (await readLab(folder)).whole
  const open = async (): Promise<{ readonly desk: Desk; readonly outbox: Outbox }> => {
    const outbox = createOutbox({ labId, store, send, alone: (_name, work) => work(), later: () => undefined })
    const desk = createDesk({ whole: await read(), outbox, names: () => ({ workloads, tuneName: () => 'a tune' }), newId, now: () => Date.now(), read, made, keepMade: (kept) => (made = kept) })
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
    void outbox.flush()
    // The kill falls a drawn while after a drawn number of entries, so that it falls among them however slow the machine is.
    const before = 1 + Math.floor(random() * MOST_BEFORE)
    let dead = false
    for (let presses = 0; !dead; presses++) {
      act(desk)
      if (presses === before) {
        setTimeout(() => {
          child.kill('SIGKILL')
          dead = true
        }, random() * LONGEST_MS)
      }
      // Between presses the replies come in.
      await new Promise((resolve) => setTimeout(resolve, PRESS_MS))
    }
    await gone
    hub = undefined
    await outbox.flush()

    const { findings, whole } = await readLab(folder)
    for (const finding of findings) faults.push(`kill ${kill}: ${finding}`)
    const waiting = outbox.entries()
    for (const entry of waiting) if (entry.state !== 'waiting') faults.push(`kill ${kill}: ${entry.state}: ${entry.sentence ?? ''}`)
    // Of what is not yet shown as saved, the first may have reached the disk before the hub died.
    const onDisk = new Map([...whole.starts, ...whole.inForce, ...whole.runs, ...whole.assemblies, ...whole.mounts].filter(({ id }) => !known.has(id)).map((record) => [record.id, canonicalJson(record)]))
    const allowed = [saved, [...saved, ...waiting.slice(0, 1).map(({ act: one }) => one.items)]].map(recordsOf)
    if (!allowed.some((records) => records.size === onDisk.size && [...records].every(([id, text]) => onDisk.get(id) === text))) faults.push(`kill ${kill}: the disk holds ${onDisk.size} records that are not those shown as saved`)
    // Every other time the page is loaded anew with what the browser kept.
    if (random() < 0.5) ({ desk, outbox } = await open())
  }
  hub = await startHubProcess(folder)
  await outbox.flush()
  const after = hub.child
  const ended = new Promise<void>((resolve) => after.once('exit', () => resolve()))
  after.kill('SIGKILL')
  await ended
  const whole = await read()
  if (outbox.entries().length > 0) faults.push(`${outbox.entries().length} entries are left over`)
  // One change in the log for each thing entered, no more and no fewer.
  if (whole.head - headBefore !== entered) faults.push(`${whole.head - headBefore} changes for ${entered} entries`)
  const shown = desk.state().records
  for (const kind of ['starts', 'inForce', 'runs'] as const) {
    if (canonicalJson(textsOf(whole[kind])) !== canonicalJson(textsOf(shown[kind]))) faults.push(`the page shows other ${kind} than the disk holds`)
  }
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
