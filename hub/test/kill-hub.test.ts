// Kills the hub without warning at random moments while changes are posted: what was acknowledged is there, and nothing is half there.
import { spawn, type ChildProcess } from 'node:child_process'
import { Agent, request } from 'node:http'
import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, describe, expect, it } from 'vitest'
import { createLab, openLab } from '@guardband/lab'
import type { Question } from '@guardband/model'
import { enter, pageHeaders } from './client.ts'
import { sampleLab } from './sample-lab.ts'
import { drawnSeed, seededNumbers } from './seeded-numbers.ts'
import { testSources } from './test-hub.ts'

const KILLS = Number(process.env['GUARDBAND_KILLS'] ?? '100')
const SEED = drawnSeed()
/** Two workspaces at once, so that one hub starts while the other is being killed. */
const LANES = 2
/** Posts go on for at most this long; the kill falls anywhere in it, from before the first reply on. */
const LONGEST_MS = 120

const root = mkdtempSync(join(tmpdir(), 'guardband-kill-'))
afterAll(() => rmSync(root, { recursive: true, force: true }))

interface Lane {
  readonly kills: number
  readonly acknowledged: number
  readonly lost: readonly string[]
  readonly findings: readonly string[]
  readonly gaps: number
}

async function startHubProcess(folder: string): Promise<{ readonly child: ChildProcess; readonly url: string }> {
  const child = spawn(process.execPath, ['--disable-warning=ExperimentalWarning', join(import.meta.dirname, 'hub-process.ts'), folder], { stdio: ['ignore', 'pipe', 'pipe'] })
  let errors = ''
  child.stderr?.on('data', (part: Buffer) => (errors += part.toString()))
  const url = await new Promise<string>((resolve, reject) => {
    child.stdout?.once('data', (part: Buffer) => resolve(part.toString().trim()))
    child.once('exit', () => reject(new Error(`the hub must start again after a kill; got: ${errors}`)))
  })
  return { child, url }
}

/** The id of the question made, or undefined when the hub died before it replied. */
function postQuestion(port: number, agent: Agent, headers: Readonly<Record<string, string>>, body: string): Promise<string | undefined> {
  return new Promise((resolve, reject) => {
    const outgoing = request({ host: '127.0.0.1', port, path: '/api/questions', method: 'POST', agent, headers: { ...headers, 'content-length': String(Buffer.byteLength(body)) } }, (incoming) => {
      let text = ''
      incoming.on('data', (part: Buffer) => (text += part.toString()))
      incoming.on('error', () => resolve(undefined))
      incoming.on('end', () => {
        if (incoming.statusCode !== 200) return reject(new Error(`a change must be taken; got ${incoming.statusCode} ${text}`))
        resolve((JSON.parse(text) as { id: string }).id)
      })
    })
    outgoing.on('error', () => resolve(undefined))
    outgoing.end(body)
  })
}

/** Starts a hub, posts until it is killed so many milliseconds later, and returns what it acknowledged. */
async function oneKill(folder: string, ask: Question['ask'], place: number, after: number): Promise<readonly string[]> {
  const { child, url } = await startHubProcess(folder)
  const port = Number(new URL(url).port)
  const headers = pageHeaders(port, await enter(port, url))
  const agent = new Agent({ keepAlive: true, maxSockets: 1 })
  const gone = new Promise<void>((resolve) => child.once('exit', () => resolve()))
  const made: string[] = []
  setTimeout(() => child.kill('SIGKILL'), after)
  for (;;) {
    const id = await postQuestion(port, agent, headers, JSON.stringify({ title: `kill ${place}, post ${made.length}`, ask }))
    if (id === undefined) break
    made.push(id)
  }
  await gone
  agent.destroy()
  return made
}

async function runLane(name: string, kills: number): Promise<Lane> {
  const folder = join(root, name)
  const sources = testSources()
  const random = seededNumbers(SEED, name)
  const first = createLab(folder, { name, currency: '' }, sources)
  const sample = sampleLab(sources.newId, 'Quillon 14')
  first.apply({ who: 'test', what: 'sample records', items: sample.items })
  await first.close()
  const acknowledged: string[] = []
  const lost: string[] = []
  const findings: string[] = []
  let gaps = 0
  for (let place = 0; place < kills; place++) {
    const made = await oneKill(folder, sample.ask, place, random() * LONGEST_MS)
    acknowledged.push(...made)
    const lab = openLab(folder, sources)
    lost.push(...acknowledged.filter((id) => lab.get(id) === undefined))
    findings.push(...lab.check().map((finding) => `${finding.place}: ${finding.sentence}`))
    // Every change is in the log: those acknowledged, and at most the one under way at each kill.
    const questions = lab.list('question').length
    if (questions > acknowledged.length + place + 1 || lab.changes({ count: 1 })[0]?.seq !== lab.head()) gaps += 1
    await lab.close()
  }
  return { kills, acknowledged: acknowledged.length, lost, findings, gaps }
}

describe('a hub killed without warning', () => {
  it(`loses nothing that it acknowledged, at ${KILLS} random moments (GUARDBAND_SEED=${SEED})`, { timeout: 600_000 }, async () => {
    const lanes = await Promise.all(Array.from({ length: LANES }, (_, lane) => runLane(`lane-${lane}`, Math.ceil((KILLS - lane) / LANES))))
    expect(lanes.reduce((sum, lane) => sum + lane.kills, 0)).toBe(KILLS)
    expect(lanes.flatMap((lane) => lane.lost)).toEqual([])
    expect(lanes.flatMap((lane) => lane.findings)).toEqual([])
    expect(lanes.map((lane) => lane.gaps)).toEqual(lanes.map(() => 0))
    // The test proves nothing unless most kills fell among posts.
    expect(lanes.reduce((sum, lane) => sum + lane.acknowledged, 0)).toBeGreaterThan(KILLS)
  })
})
