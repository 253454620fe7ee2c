// A rig of the invented lab at the second listener: a short journal, what it is at, and its requests.
import { createHash } from 'node:crypto'
import { encodeRecord, FIRST_PREVIOUS, planHash, planSchema, type Ask, type JournalBody, type JournalBodyOf, type LiveState } from '@guardband/model'
import type { PinnedReply } from '@guardband/link/pinned-client'
import { testSources } from '../test-hub.ts'
import type { SecondHub } from './second-hub.ts'

const AT = '2026-11-05T09:00:00.000Z'

const PLAN = planSchema.parse({
  schema: 1, id: 'plan-1', title: 'Power limits', rig: 'south bench',
  assembly: [{ slot: 'processor', part: 'Quillon 14', sample: '1' }],
  tunes: [{ name: '65 W' }],
  workloads: [{ name: 'tile render, all cores', command: { run: ['render'], timeLimitSeconds: 600 }, measures: [{ name: 'time', unit: 's', direction: 'lower is better', reading: { elapsed: 'seconds' } }] }],
  design: { tunes: ['65 W'], workloads: ['tile render, all cores'], startsPerTune: 1, repeats: 1, start: 'warm' },
})

export const PRINTED = Buffer.from('<script>alert(1)</script> segmentation fault\n')

export interface RigJournal {
  readonly id: string
  readonly run: string
  readonly bytes: Buffer
  /** Where each line begins, and the end. */
  readonly cuts: readonly number[]
}

/** A start with one run that died, whose output is kept. */
export function rigJournal(more: { readonly how?: 'warm' | 'cold'; readonly id?: string } = {}): RigJournal {
  const { newId } = testSources()
  const [id, startId, inForceId, run] = [more.id ?? newId(), newId(), newId(), newId()]
  return { id, run, ...written([
    { type: 'open', at: AT, format: 1, journal: id, program: 'test', planHash: planHash(PLAN), plan: PLAN, step: 'b1.t1', startId, startOrder: 0, previous: null, bootId: 'boot 1' },
    { type: 'start', at: AT, tune: '65 W', how: more.how ?? 'warm', result: 'started', conditions: {} },
    { type: 'in force', at: AT, inForceId, tune: '65 W', known: 'unverified', observed: [] },
    { type: 'begin', at: AT, step: 'b1.t1.w1.r1', runId: run, inForceId, workload: 'tile render, all cores', order: 0 },
    { type: 'end', at: AT, step: 'b1.t1.w1.r1', runId: run, outcome: 'program died', measures: [], seconds: 4, exitStatus: null, signal: 'SIGSEGV', kept: [{ what: 'output', sha256: hashOf(PRINTED), bytes: PRINTED.length }] },
  ]) }
}

/** What a companion of that rig saw. */
export function companionFile(journal: string, saw: readonly Pick<JournalBodyOf<'saw'>, 'what' | 'text'>[]): { readonly id: string; readonly bytes: Buffer } {
  const id = testSources().newId()
  return { id, ...written([
    { type: 'watch', at: AT, format: 1, journal: id, program: 'test', rig: 'south bench', bootId: 'boot 9', previous: null },
    ...saw.map(({ what, text }): JournalBody => ({ type: 'saw', at: AT, what, journal, startId: null, runId: null, text })),
  ]) }
}

function written(bodies: readonly JournalBody[]): Pick<RigJournal, 'bytes' | 'cuts'> {
  const cuts = [0]
  let hash = FIRST_PREVIOUS
  const lines = bodies.map((body, sequence) => {
    const line = encodeRecord(sequence, hash, body)
    hash = line.hash
    cuts.push(cuts[cuts.length - 1] + line.bytes.length)
    return line.bytes
  })
  return { bytes: Buffer.concat(lines), cuts }
}

export function hashOf(bytes: Uint8Array): string {
  return createHash('sha256').update(bytes).digest('hex')
}

export function liveState(more: Partial<LiveState> = {}): LiveState {
  return {
    rig: 'south bench', plan: { id: PLAN.id, title: PLAN.title, hash: planHash(PLAN) }, state: 'at work', message: null,
    step: { id: 'b1.t1.w1.r1', kind: 'run', name: 'tile render, all cores', tune: '65 W', since: AT }, done: 1, left: 3, minutesLeft: 12, journal: null, ask: null, last: [], ...more,
  }
}

export function ask(more: Partial<Ask> = {}): Ask {
  return { id: testSources().newId(), kind: 'done', step: 'b1.t1', text: 'Put the tune in force.', words: [], unit: null, lines: [], picture: false, since: AT, ...more }
}

export interface RigClient {
  readonly authorization: { readonly authorization: string }
  readonly get: (path: string) => Promise<PinnedReply>
  readonly json: (path: string, body: unknown) => Promise<PinnedReply>
  readonly bytes: (path: string, body: Uint8Array) => Promise<PinnedReply>
  readonly piece: (journal: RigJournal | { readonly id: string; readonly bytes: Buffer }, from?: number, to?: number) => Promise<PinnedReply>
  /** What it hears when it says what it is at. */
  readonly says: (state: LiveState) => Promise<{ readonly answers: readonly { readonly ask: string; readonly answer: string; readonly who: string; readonly via: string }[]; readonly stop: boolean }>
}

export async function rigClient(test: SecondHub, name = 'south bench'): Promise<RigClient> {
  const authorization = { authorization: `Bearer ${await test.pairRig(name)}` }
  const json: RigClient['json'] = (path, body) => test.call(path, { method: 'POST', headers: { ...authorization, 'content-type': 'application/json' }, body: JSON.stringify(body) })
  const bytes: RigClient['bytes'] = (path, body) => test.call(path, { method: 'POST', headers: { ...authorization, 'content-type': 'application/octet-stream' }, body })
  return {
    authorization, json, bytes,
    get: (path) => test.call(path, { headers: authorization }),
    piece: (journal, from = 0, to = journal.bytes.length) => bytes(`/sync/journals/${journal.id}/piece?offset=${from}`, journal.bytes.subarray(from, to)),
    says: async (state) => {
      const reply = await json('/sync/state', { state, clock: { offset: 0.25, within: 0.01 } })
      if (reply.status !== 200) throw new Error(`the state must be taken; got ${reply.status} ${reply.bytes.toString()}`)
      return JSON.parse(reply.bytes.toString())
    },
  }
}

export function told(reply: { readonly status: number; readonly bytes: Buffer }): unknown {
  return [reply.status, (JSON.parse(reply.bytes.toString()) as { code?: string }).code]
}
