// Kills the hub without warning while a phone taps: what the phone calls saved is in the lab, and nothing is there twice.
import { mkdtempSync, rmSync } from 'node:fs'
import { request } from 'node:https'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, describe, expect, it } from 'vitest'
import { createIdFactory } from '@guardband/model/ids'
import type { BenchState } from '@guardband/model/api/phone'
import { entryRecords, sheetProgress } from '@guardband/model/sheet'
import { createOutbox, type Message, type MessageStore } from '../../phone/outbox.ts'
import { recordsAfter, withSaved } from '../../phone/held-state.ts'
import { sendMessage, type Fetch } from '../../phone/send-message.ts'
import { startHubProcess, type HubProcess, type LabDump } from './hub-process.ts'

/** With those of the grid, 100 in one run of all tests; more when asked for. */
const KILLS = Number(process.env['GUARDBAND_KILLS'] ?? '50')
/** Two phones with a hub each, so that one hub starts while the other is being killed. */
const LANES = 2
/** Taps go on all the time; the kill falls anywhere in this. */
const LONGEST_MS = 160

const root = mkdtempSync(join(tmpdir(), 'guardband-phone-kill-'))
afterAll(() => rmSync(root, { recursive: true, force: true }))

describe('a hub killed while a phone taps', () => {
  it(`loses nothing that the phone calls saved and makes nothing twice, at ${KILLS} random moments`, { timeout: 600_000 }, async () => {
    const lanes = await Promise.all(Array.from({ length: LANES }, (_, lane) => runLane(join(root, `lane-${lane}`, 'lab'), Math.ceil((KILLS - lane) / LANES))))
    for (const { lab, made, saved } of lanes) {
      expect(saved.map(({ request: key }) => key)).toEqual(made.map(({ request: key }) => key))
      expect(lab.findings).toEqual([])
      // Every entry stands in the log as often as the phone made it: once, since each has a number in its sentence.
      const told = new Map<string, number>()
      for (const what of lab.changes) told.set(what, (told.get(what) ?? 0) + 1)
      const entries = made.filter(({ kind }) => kind === 'entry')
      expect(entries.filter(({ what }) => told.get(what) !== 1).map(({ what }) => what)).toEqual([])
      const takenBack = new Set(made.flatMap((message) => (message.kind === 'take back' ? [message.entry] : [])))
      expect(lab.changes.filter((what) => what.startsWith('Took back'))).toHaveLength(takenBack.size)
      const runsMade = entries.flatMap((message) => (message.kind === 'entry' && !takenBack.has(message.request) ? message.items.flatMap(({ after }) => (after?.kind === 'run' ? [after.id] : [])) : []))
      expect(lab.runs.map(({ id }) => id).toSorted()).toEqual(runsMade.toSorted())
    }
    // The test proves nothing unless the kills fell among taps.
    expect(lanes.reduce((sum, lane) => sum + lane.kills, 0)).toBe(KILLS)
    expect(lanes.reduce((sum, lane) => sum + lane.made.length, 0)).toBeGreaterThan(KILLS)
  })
})

interface Lane {
  readonly kills: number
  /** In the order in which they were tapped. */
  readonly made: readonly Message[]
  /** In the order in which the phone called them saved. */
  readonly saved: readonly Message[]
  readonly lab: LabDump
}

async function runLane(folder: string, kills: number): Promise<Lane> {
  const newId = createIdFactory({ now: () => Date.now(), fillRandom: (bytes) => void crypto.getRandomValues(bytes) })
  let hub: HubProcess = await startHubProcess(folder, { webFolder: root, port: 0, starts: 1000 })
  const { phonesUrl } = hub
  const port = Number(new URL(phonesUrl).port)
  const cookie = await letIn(hub)

  const send: Fetch = (path, { method, headers, body, signal }) => post(`${phonesUrl.slice(0, -1)}${path}`, { method, headers: { ...headers, cookie, origin: phonesUrl.slice(0, -1) }, body: typeof body === 'string' ? body : '', signal })
  const kept = new Map<string, Message>()
  const store: MessageStore = { all: () => Promise.resolve([]), put: async (message) => void kept.set(message.request, message), remove: async (key) => void kept.delete(key) }
  // As soon as it may, so that a try often falls into the hub's start as well.
  const outbox = await createOutbox({ store, send: (message) => sendMessage(message, send), later: (_milliseconds, work) => stopper(setTimeout(work, 20)) })
  const saved: Message[] = []
  let held = JSON.parse((await get(`${phonesUrl}bench/state`, cookie)).text) as BenchState
  outbox.listen(({ saved: message }) => {
    if (message === null) return
    saved.push(message)
    held = withSaved(held, message)
  })

  const made: Message[] = []
  let tapping = true
  const taps = (async () => {
    for (let count = 0; tapping; count++) {
      await new Promise((resolve) => setTimeout(resolve, 5))
      if (outbox.waiting().length > 6) continue
      const message = nextTap(held, outbox.waiting(), made, count, newId)
      made.push(message)
      await outbox.add(message)
    }
  })()
  for (let place = 0; place < kills; place++) {
    await new Promise((resolve) => setTimeout(resolve, Math.random() * LONGEST_MS))
    await hub.kill()
    hub = await startHubProcess(folder, { webFolder: root, port })
  }
  tapping = false
  await taps
  await expect.poll(() => outbox.state().state, { timeout: 20_000 }).toBe('all saved')
  const lab = await hub.lab()
  await hub.kill()
  return { kills, made, saved, lab }
}

/** What a person would do next: begin the start, enter the run; every seventh time, take the last entry back. */
function nextTap(state: BenchState, waiting: readonly Message[], made: readonly Message[], count: number, newId: () => string): Message {
  const sheet = state.sheets[0]
  const records = recordsAfter(state, waiting)
  const last = made.at(-1)
  if (count % 7 === 6 && last?.kind === 'entry') return { kind: 'take back', request: newId(), labId: state.labId, what: `take back ${count}`, entry: last.request, items: last.items }
  const { next, starts } = sheetProgress(sheet, records)
  if (next === null) throw new Error(`the sheet must be longer; it has ${starts.length} starts`)
  const begun = records.starts.some(({ id }) => id === next.planned.startId)
  const items = entryRecords(
    sheet, records,
    begun
      ? { what: 'run', startId: next.planned.startId, workloadId: next.workloadId, outcome: 'scored', measures: [{ name: state.workloads.find(({ id }) => id === next.workloadId)?.measures[0]?.name ?? '', value: count }] }
      : { what: 'begin', startId: next.planned.startId, known: 'seen by a person' },
    { newId, now: () => Date.now() },
  )
  return { kind: 'entry', request: newId(), labId: state.labId, what: `tap ${count}`, items }
}

interface Reply {
  readonly status: number
  readonly text: string
  readonly cookie: string
}

async function letIn(hub: HubProcess): Promise<string> {
  const body = new URLSearchParams({ code: await hub.newCode(), name: 'phone' }).toString()
  const reply = await ask(`${hub.phonesUrl}pair`, { method: 'POST', headers: { 'content-type': 'application/x-www-form-urlencoded' }, body })
  if (reply.status !== 303) throw new Error(`the phone must be let in; got ${reply.status} ${reply.text}`)
  return reply.cookie
}

function get(url: string, cookie: string): Promise<Reply> {
  return ask(url, { method: 'GET', headers: { cookie } })
}

async function post(url: string, options: { readonly method: string; readonly headers: Record<string, string>; readonly body: string; readonly signal: AbortSignal }): Promise<{ readonly status: number; readonly json: () => Promise<unknown> }> {
  const { status, text } = await ask(url, options)
  return { status, json: () => Promise.resolve(JSON.parse(text) as unknown) }
}

/** A phone that has accepted the certificate. */
function ask(url: string, { method, headers, body, signal }: { readonly method: string; readonly headers: Record<string, string>; readonly body?: string; readonly signal?: AbortSignal }): Promise<Reply> {
  return new Promise((resolve, reject) => {
    const length: Record<string, string> = body === undefined ? {} : { 'content-length': String(Buffer.byteLength(body)) }
    const outgoing = request(url, { method, headers: { ...length, ...headers }, rejectUnauthorized: false, agent: false, ...(signal === undefined ? {} : { signal }) }, (incoming) => {
      let text = ''
      incoming.on('data', (part: Buffer) => (text += part.toString()))
      incoming.on('error', reject)
      incoming.on('end', () => resolve({ status: incoming.statusCode ?? 0, text, cookie: incoming.headers['set-cookie']?.[0]?.split(';')[0] ?? '' }))
    })
    outgoing.on('error', reject)
    outgoing.end(body)
  })
}

function stopper(timer: NodeJS.Timeout): () => void {
  return () => clearTimeout(timer)
}
