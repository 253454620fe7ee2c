// What a phone reads and enters through the second listener.
import { readdirSync } from 'node:fs'
import { request } from 'node:https'
import { join } from 'node:path'
import { afterEach, beforeEach, describe, expect, it, vi } from 'vitest'
import { benchStateSchema, type BenchState, type ChangeItem, type LabRecord } from '@guardband/model'
import { entryRecords } from '@guardband/model/sheet'
import { testSources } from '../test-hub.ts'
import { beginEntry, startSecondHub, type Phone, type SecondHub } from './second-hub.ts'

let test: SecondHub
let phone: Phone
beforeEach(async () => {
  test = await startSecondHub()
  phone = await test.pairPhone('phone of the north bench')
})
afterEach(() => test.end())

const stateOf = async (): Promise<BenchState> => benchStateSchema.parse(JSON.parse((await phone.get('/bench/state')).bytes.toString()))
const codeOf = (reply: { readonly bytes: Buffer }): string => (JSON.parse(reply.bytes.toString()) as { code: string }).code

describe('the state', () => {
  it('holds the open sheet with all that it names, and no run of the rest of the lab', async () => {
    const state = await stateOf()
    expect(state.sheets).toEqual([test.sheet])
    expect(state).toMatchObject({ labName: 'Hollin & Pike', device: 'phone of the north bench', starts: [], runs: [], inForce: [] })
    expect(state.tunes.map(({ name }) => name)).toEqual(['as delivered', 'quiet 95 W'])
    expect([state.samples.length, state.parts.length, state.workloads.length, state.rigs.length, state.assemblies.length]).toEqual([1, 1, 1, 1, 1])
  })

  it('leaves out a sheet that is done, an hour after its last run', async () => {
    const { lab, sheet } = test
    const records = { starts: [], inForce: [], runs: [], assemblies: lab.list('assembly'), mounts: lab.list('mount') }
    const sources = { newId: testSources().newId, now: () => Date.now() }
    for (const { startId } of sheet.starts) lab.apply({ who: 'x', what: 'failed', items: entryRecords(sheet, records, { what: 'start failed', startId, result: 'no start' }, sources) })
    expect((await stateOf()).sheets).toEqual([])
  })
})

describe('an entry', () => {
  it('is in the lab when it is acknowledged, under the name of the device', async () => {
    const entry = beginEntry(test)
    const reply = await phone.post('/bench/entries', entry)
    expect([reply.status, JSON.parse(reply.bytes.toString())]).toEqual([200, { change: test.lab.head() }])
    expect(test.lab.get(test.sheet.starts[0].startId)).toMatchObject({ kind: 'start', tuneId: test.sheet.starts[0].tuneId })
    expect(test.lab.changes({ count: 1 })[0]).toMatchObject({ who: 'phone of the north bench', what: 'Began start 1' })
    expect((await stateOf()).starts).toHaveLength(1)
  })

  it('sent again after a lost reply is made once', async () => {
    const entry = beginEntry(test)
    const first = await phone.post('/bench/entries', entry)
    const head = test.lab.head()
    const again = await phone.post('/bench/entries', entry)
    expect(again.bytes.toString()).toBe(first.bytes.toString())
    expect(test.lab.head()).toBe(head)
  })

  it('is taken back by its own id, once, however often that is sent', async () => {
    const entry = beginEntry(test)
    await phone.post('/bench/entries', entry)
    const first = await phone.post('/bench/take-back', { labId: entry.labId, entry: entry.request })
    expect(first.status).toBe(200)
    const head = test.lab.head()
    expect((await phone.post('/bench/take-back', { labId: entry.labId, entry: entry.request })).bytes.toString()).toBe(first.bytes.toString())
    expect(test.lab.head()).toBe(head)
    expect(test.lab.get(test.sheet.starts[0].startId)).toBeUndefined()
    expect(codeOf(await phone.post('/bench/entries', entry))).toBe('request-taken-back')
  })

  it('can write nothing but what a sheet leads to, and can take nothing out', async () => {
    const { lab, sheet } = test
    const { newId } = testSources()
    const otherRig: LabRecord = { kind: 'rig', id: newId(), name: 'south bench' }
    const elsewhere = { ...lab.list('assembly')[0], id: newId(), rigId: otherRig.id }
    lab.apply({ who: 'x', what: 'another rig', items: [otherRig, elsewhere].map((after) => ({ before: null, after })) })
    const head = lab.head()
    const run = lab.list('run')[0]
    const [part, start, sample] = [lab.list('part')[0], lab.list('start')[0], lab.list('sample')[0]]
    const attempts: readonly (readonly ChangeItem[])[] = [
      [{ before: null, after: { ...part, id: newId(), name: 'another' } }],
      [{ before: part, after: { ...part, name: 'renamed' } }],
      [{ before: sample, after: { ...sample, status: 'for sale' } }],
      [{ before: sheet, after: { ...sheet, repeats: 1 } }],
      [{ before: sheet, after: null }],
      // A start that no sheet has.
      [{ before: null, after: { ...start, id: newId() } }],
      [{ before: start, after: { ...start, note: 'changed' } }],
      [{ before: start, after: null }],
      // What stands elsewhere, brought onto a sheet.
      [...beginEntry(test).items, { before: run, after: { ...run, startId: sheet.starts[0].startId } }],
      [{ before: null, after: { kind: 'mount', id: newId(), assemblyId: elsewhere.id, at: '2026-03-03T08:00:00Z' } }],
      [{ before: elsewhere, after: { ...elsewhere, rigId: sheet.rigId } }],
      // Behind a harmless one.
      [...beginEntry(test).items, { before: part, after: { ...part, name: 'renamed' } }],
    ]
    for (const [place, items] of attempts.entries()) {
      const reply = await phone.post('/bench/entries', { ...beginEntry(test), items })
      expect([place, reply.status, codeOf(reply)]).toEqual([place, 403, 'not-on-a-sheet'])
    }
    expect(lab.head()).toBe(head)
  })

  it('for another workspace than the one that is served is refused, and nothing is written', async () => {
    const head = test.lab.head()
    const reply = await phone.post('/bench/entries', { ...beginEntry(test), labId: testSources().newId() })
    expect([reply.status, codeOf(reply)]).toEqual([409, 'other-lab'])
    expect(test.lab.head()).toBe(head)
  })

  it('of more than a megabyte is refused', async () => {
    expect((await phone.post('/bench/entries', { ...beginEntry(test), what: 'x'.repeat(1024 * 1024) })).status).toBe(413)
  })
})

describe('a picture', () => {
  it('stands beside the start that it was taken of, as the device\'s', async () => {
    await phone.post('/bench/entries', beginEntry(test))
    const about = test.sheet.starts[0].startId
    const query = new URLSearchParams({ request: testSources().newId(), name: 'screen.jpg', type: 'image/jpeg', about, thumbnail: '0' })
    const reply = await test.call(`/bench/pictures?${query.toString()}`, { method: 'POST', headers: { ...phone.headers, 'content-type': 'application/octet-stream' }, body: 'not really a picture' })
    expect(reply.status).toBe(200)
    expect(test.lab.evidence.about(about)).toMatchObject([{ by: 'phone of the north bench', bytes: 20, about: [about] }])
  })

  it('of something that stands on no sheet is refused before it is kept', async () => {
    const query = new URLSearchParams({ request: testSources().newId(), name: 'x.jpg', type: 'image/jpeg', about: test.lab.list('part')[0].id, thumbnail: '0' })
    expect((await test.call(`/bench/pictures?${query.toString()}`, { method: 'POST', headers: phone.headers, body: 'x' })).status).toBe(403)
    expect(test.lab.list('evidence')).toEqual([])
  })

  it('whose device is revoked while it is on the way is not kept', async () => {
    await phone.post('/bench/entries', beginEntry(test))
    const about = test.sheet.starts[0].startId
    const query = new URLSearchParams({ request: testSources().newId(), name: 'screen.jpg', type: 'image/jpeg', about, thumbnail: '0' })
    const [device] = (await test.state()).devices
    const status = await new Promise<number>((resolve, reject) => {
      const outgoing = request(new URL(`/bench/pictures?${query.toString()}`, test.url), { method: 'POST', headers: { ...phone.headers, 'content-length': '20' }, rejectUnauthorized: false, agent: false }, (incoming) => {
        incoming.resume()
        resolve(incoming.statusCode ?? 0)
      })
      outgoing.on('error', reject)
      outgoing.write('half of it', () => {
        vi.waitFor(() => expect(readdirSync(join(test.lab.folder, 'evidence'))).toHaveLength(1), { timeout: 10_000 })
          .then(() => test.post(`/api/devices/${device.id}/revoke`))
          .then(() => outgoing.end('and a rest'), reject)
      })
    })
    expect(status).toBe(401)
    expect(test.lab.list('evidence')).toEqual([])
  })
})
