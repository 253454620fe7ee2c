// What a rig hands over through the second listener, and what it is refused.
import { readdirSync, readFileSync } from 'node:fs'
import { request } from 'node:https'
import { join } from 'node:path'
import { afterEach, beforeEach, describe, expect, it } from 'vitest'
import { SYNC_ROUTES } from '@guardband/model'
import { CODE_LIFE_MS, TRIES_AN_ADDRESS } from '@guardband/link/pairing'
import { testSources } from '../test-hub.ts'
import { companionFile, hashOf, liveState, PRINTED, rigClient, rigJournal, told, type RigClient } from './rig-journal.ts'
import { startSecondHub, type SecondHub } from './second-hub.ts'

let test: SecondHub
let rig: RigClient
beforeEach(async () => {
  test = await startSecondHub()
  rig = await rigClient(test)
})
afterEach(() => test.end())

const bodyOf = (reply: { readonly bytes: Buffer }): unknown => JSON.parse(reply.bytes.toString())
const held = (): readonly string[] => readdirSync(join(test.lab.folder, 'journals'))

describe('a journal in pieces', () => {
  it('is held, on disk and booked when each piece is acknowledged, under the name of the device', async () => {
    const journal = rigJournal()
    const { bytes, cuts, id } = journal
    expect(bodyOf(await rig.get(`/sync/journals/${id}/held`))).toEqual({ bytes: 0, sha256: hashOf(Buffer.alloc(0)) })
    expect(bodyOf(await rig.piece(journal, 0, cuts[4]))).toEqual({ held: { bytes: cuts[4], sha256: hashOf(bytes.subarray(0, cuts[4])) }, runs: 0, remarks: [] })
    expect(bodyOf(await rig.piece(journal, cuts[2]))).toMatchObject({ held: { bytes: bytes.length }, runs: 1 })
    expect(bodyOf(await rig.get(`/sync/journals/${id}/held`))).toEqual({ bytes: bytes.length, sha256: hashOf(bytes) })
    expect(readFileSync(join(test.lab.folder, 'journals', `${id}.journal`)).equals(bytes)).toBe(true)
    expect(test.lab.get(journal.run)).toMatchObject({ outcome: 'program died' })
    expect(test.lab.changes({ count: 1 })[0].who).toBe('south bench')
  })

  it('says hello with the workspace\'s id and clock', async () => {
    expect(bodyOf(await rig.json('/sync/hello', {}))).toMatchObject({ id: test.lab.info().lab.id, name: 'Hollin & Pike', now: expect.any(Number) })
  })

  it('is refused with a sentence where it leaves a gap, says something else, is cut within a line, opens another journal, or comes from another device', async () => {
    const journal = rigJournal()
    const { cuts, id } = journal
    await rig.piece(journal, 0, cuts[2])
    const other = await rigClient(test, 'north bench')
    const head = test.lab.head()
    const refused = [
      await rig.piece(journal, cuts[3]),
      await rig.piece(rigJournal({ id, how: 'cold' })),
      await rig.piece(journal, cuts[2], cuts[3] - 1),
      await rig.piece({ ...rigJournal(), id: testSources().newId() }),
      await other.piece(journal),
      await other.get(`/sync/journals/${id}/held`),
      await other.get(`/sync/journals/${id}/seen`),
    ]
    expect(refused.map(told)).toEqual([[409, 'journal-gap'], [409, 'journal-fork'], [422, 'journal-piece'], [422, 'journal-other'], [403, 'journal-foreign'], [403, 'journal-foreign'], [403, 'journal-foreign']])
    for (const reply of refused) expect(bodyOf(reply)).toMatchObject({ sentence: expect.stringMatching(/^.{20,}\.$/) })
    expect(test.lab.head()).toBe(head)
    expect(held()).toEqual([`${id}.journal`])
  })

  it('that was longer than a journal may be is refused before it is read', async () => {
    const journal = rigJournal()
    expect(told(await rig.bytes(`/sync/journals/${journal.id}/piece?offset=${60 * 1024 * 1024}`, journal.bytes))).toEqual([422, 'input'])
  })

  it('of a rig that is revoked while a piece is on the way is not held', async () => {
    const journal = rigJournal()
    const [device] = (await test.state()).devices
    const status = await new Promise<number>((resolve, reject) => {
      const outgoing = request(new URL(`/sync/journals/${journal.id}/piece?offset=0`, test.url), { method: 'POST', headers: { ...rig.authorization, 'content-length': String(journal.bytes.length) }, rejectUnauthorized: false, agent: false }, (incoming) => {
        incoming.resume()
        resolve(incoming.statusCode ?? 0)
      })
      outgoing.on('error', reject)
      outgoing.write(journal.bytes.subarray(0, 20), () => void test.post(`/api/devices/${device.id}/revoke`).then(() => outgoing.end(journal.bytes.subarray(20)), reject))
    })
    expect(status).toBe(401)
    expect(held()).toEqual([])
    expect((await rig.get(`/sync/journals/${journal.id}/held`)).status).toBe(401)
  })
})

describe('what a failed run printed', () => {
  it('is taken once its journal is there, offered as a download in which nothing runs, and is one file however often it is sent', async () => {
    const journal = rigJournal()
    const path = `/sync/kept?${new URLSearchParams({ run: journal.run, what: 'output', sha256: hashOf(PRINTED) }).toString()}`
    expect(told(await rig.bytes(path, PRINTED))).toEqual([409, 'kept-not-yet'])
    await rig.piece(journal)
    for (let times = 0; times < 2; times++) expect(bodyOf(await rig.bytes(path, PRINTED))).toEqual({ kept: true })
    const [evidence, more] = test.lab.evidence.about(journal.run)
    expect([more, evidence.name, evidence.mediaType]).toEqual([undefined, 'output.txt', 'text/plain'])
    const download = await test.get(`/api/evidence/${evidence.id}/file`)
    expect(download.text).toBe(PRINTED.toString())
    expect(download.headers).toMatchObject({ 'x-content-type-options': 'nosniff', 'content-disposition': expect.stringMatching(/^attachment;/), 'content-security-policy': expect.stringMatching(/^sandbox/) })
    expect(download.headers['content-type']).not.toContain('html')
  })

  it('is refused with other bytes than were announced, when the journal does not name it, and from another device', async () => {
    const journal = rigJournal()
    await rig.piece(journal)
    const other = await rigClient(test, 'north bench')
    const path = (sha256: string, run = journal.run): string => `/sync/kept?${new URLSearchParams({ run, what: 'output', sha256 }).toString()}`
    const foreign = Buffer.from('something else')
    expect([
      told(await rig.bytes(path(hashOf(PRINTED)), foreign)),
      told(await rig.bytes(path(hashOf(foreign)), foreign)),
      told(await rig.bytes(path(hashOf(PRINTED), test.lab.list('run')[0].id), PRINTED)),
      told(await other.bytes(path(hashOf(PRINTED)), PRINTED)),
    ]).toEqual([[422, 'file-not-sent'], [422, 'kept-not-named'], [409, 'kept-not-yet'], [403, 'journal-foreign']])
    expect(test.lab.list('evidence')).toEqual([])
    expect(readdirSync(test.lab.folder)).not.toContain('evidence')
  })
})

describe('what a companion saw', () => {
  it('is told to the rig that it watched, and stands beside its start', async () => {
    const journal = rigJournal()
    await rig.piece(journal)
    const companion = await rigClient(test, 'companion of the south bench')
    expect((await companion.piece(companionFile(journal.id, [{ what: 'silence', text: 'nothing was heard for 90 s' }, { what: 'POST code', text: '55' }]))).status).toBe(200)
    expect(bodyOf(await rig.get(`/sync/journals/${journal.id}/seen`))).toMatchObject({ saw: [{ what: 'silence', text: 'nothing was heard for 90 s' }, { what: 'POST code', text: '55' }] })
    const start = test.lab.list('start').find(({ source }) => source === journal.id)
    expect(start).toMatchObject({ training: { postCode: '55' } })
    expect(test.lab.history.of(start?.id ?? '', { from: 0, count: 1 }).entries[0].change.who).toBe('companion of the south bench')
  })
})

describe('whatever else comes over the line', () => {
  it('gets a status below 500, a code and a sentence, and changes nothing', async () => {
    const { id } = rigJournal()
    const head = test.lab.head()
    const json = { ...rig.authorization, 'content-type': 'application/json' }
    const state = JSON.stringify({ state: liveState(), clock: null })
    const requests: readonly (readonly [number, string, Parameters<SecondHub['call']>[1]])[] = [
      [404, '/sync/nothing', { headers: rig.authorization }],
      [404, '/sync/state', { headers: rig.authorization }],
      [404, '/sync/journals/x', { headers: rig.authorization }],
      [400, '/sync/journals/x/held', { headers: rig.authorization }],
      [400, `/sync/journals/${id.toUpperCase()}/held`, { headers: rig.authorization }],
      [400, `/sync/journals/..%2f..%2flab/held`, { headers: rig.authorization }],
      [400, `/sync/journals/${id}/held?more=1`, { headers: rig.authorization }],
      [400, `/sync/journals/${id}/piece`, { method: 'POST', headers: rig.authorization, body: 'x' }],
      [400, `/sync/journals/${id}/piece?offset=-1`, { method: 'POST', headers: rig.authorization, body: 'x' }],
      [400, `/sync/journals/${id}/piece?offset=1.5`, { method: 'POST', headers: rig.authorization, body: 'x' }],
      [400, `/sync/journals/${id}/piece?offset=1e999`, { method: 'POST', headers: rig.authorization, body: 'x' }],
      [422, `/sync/journals/${id}/piece?offset=0`, { method: 'POST', headers: rig.authorization, body: Buffer.alloc(1000, 0xff) }],
      [422, `/sync/journals/${id}/piece?offset=0`, { method: 'POST', headers: rig.authorization, body: Buffer.alloc(1000, 0x0a) }],
      [415, `/sync/journals/${id}/piece?offset=0`, { method: 'POST', headers: json, body: '{}' }],
      [415, `/sync/journals/${id}/piece?offset=0`, { method: 'POST', headers: { ...rig.authorization, 'content-type': 'multipart/form-data; boundary=x' }, body: '--x--' }],
      [400, '/sync/kept?run=x&what=output&sha256=y', { method: 'POST', headers: rig.authorization, body: 'x' }],
      [400, `/sync/kept?${new URLSearchParams({ run: id, what: 'program', sha256: hashOf(PRINTED) }).toString()}`, { method: 'POST', headers: rig.authorization, body: 'x' }],
      [400, '/sync/state', { method: 'POST', headers: json, body: '{"state": ' }],
      [400, '/sync/state', { method: 'POST', headers: json, body: '[]' }],
      [400, '/sync/state', { method: 'POST', headers: json, body: '['.repeat(100_000) }],
      [400, '/sync/state', { method: 'POST', headers: json, body: Buffer.from([0x22, 0xff, 0x22]) }],
      [400, '/sync/state', { method: 'POST', headers: json, body: state.replace('"done":1', '"done":1e999') }],
      [400, '/sync/state', { method: 'POST', headers: json, body: state.replace('"done":1', '"done":1,"run":"rm"') }],
      [415, '/sync/state', { method: 'POST', headers: { ...rig.authorization, 'content-type': 'text/plain' }, body: state }],
      [413, '/sync/state', { method: 'POST', headers: json, body: state.replace('"message":null', `"message":"${'x'.repeat(1024 * 1024)}"`) }],
    ]
    for (const [status, path, options] of requests) {
      const reply = await test.call(path, options)
      expect([path, reply.status]).toEqual([path, status])
      expect(bodyOf(reply)).toEqual({ code: expect.stringMatching(/^[a-z-]+$/), sentence: expect.stringMatching(/^.{15,}\.$/) })
    }
    expect(test.lab.head()).toBe(head)
    expect(held()).toEqual([])
    expect(test.said).toEqual([])
  })

  it('of 100 MB is refused from its announced length, or at the byte that goes past the limit', async () => {
    for (const path of [`/sync/journals/${rigJournal().id}/piece?offset=0`, '/sync/state', `/sync/kept?${new URLSearchParams({ run: rigJournal().run, what: 'output', sha256: hashOf(PRINTED) }).toString()}`]) {
      const type = path === '/sync/state' ? 'application/json' : 'application/octet-stream'
      expect([path, await hugeStatus(path, { 'content-type': type, 'content-length': String(HUGE) })]).toEqual([path, 413])
      expect([path, await hugeStatus(path, { 'content-type': type, 'transfer-encoding': 'chunked' })]).toEqual([path, 413])
    }
    expect(held()).toEqual([])
  })

  it('without a token, with a revoked one or a phone\'s, is nobody\'s', async () => {
    const phone = await test.pairPhone()
    const { devices } = await test.state()
    const paths = Object.values(SYNC_ROUTES).map(({ method, path }) => ({ method, path: path.replace(':id', testSources().newId()) }))
    for (const { method, path } of paths) {
      expect([path, (await test.call(path, { method })).status]).toEqual([path, 401])
      expect([path, (method === 'GET' ? await phone.get(path) : await phone.post(path, {})).status]).toEqual([path, 404])
    }
    await test.post(`/api/devices/${devices.find(({ name }) => name === 'south bench')?.id}/revoke`)
    for (const { method, path } of paths) expect([path, (await test.call(path, { method, headers: rig.authorization })).status]).toEqual([path, 401])
  })
})

describe('pairing a rig', () => {
  it('takes a code once: replayed, expired, void because of a newer one, and guessed ones let nobody in', async () => {
    const code = await test.newCode()
    expect(await pair(code)).toEqual([200, undefined])
    expect(await pair(code)).toEqual([403, 'pairing'])
    const old = await test.newCode()
    const newer = await test.newCode()
    expect(await pair(old)).toEqual([403, 'pairing'])
    test.wait(CODE_LIFE_MS)
    expect(await pair(newer)).toEqual([403, 'pairing'])
    const before = (await test.state()).devices.length
    for (let tries = 3; tries < TRIES_AN_ADDRESS; tries++) expect(await pair('AAAA-AAAA')).toEqual([403, 'pairing'])
    // From here on not even the right one counts.
    expect(await pair(await test.newCode())).toEqual([429, 'pairing'])
    expect((await test.state()).devices).toHaveLength(before)
  })
})

async function pair(code: string): Promise<unknown> {
  return told(await test.call('/pair', { method: 'POST', headers: { 'content-type': 'application/json' }, body: JSON.stringify({ code, name: 'rig' }) }))
}

const HUGE = 100 * 1024 * 1024

/** Sends until the hub has said enough of it. */
function hugeStatus(path: string, headers: Readonly<Record<string, string>>): Promise<number> {
  const piece = Buffer.alloc(1024 * 1024, 0x20)
  return new Promise((resolve, reject) => {
    let over = false
    const outgoing = request(new URL(path, test.url), { method: 'POST', headers: { ...rig.authorization, ...headers }, rejectUnauthorized: false, agent: false }, (incoming) => {
      over = true
      incoming.resume()
      resolve(incoming.statusCode ?? 0)
      incoming.on('end', () => outgoing.destroy())
    })
    // Torn down by the hub after it has replied.
    outgoing.on('error', (error) => (over ? undefined : reject(error)))
    const more = (left: number): void => {
      if (over || left === 0) return
      if (outgoing.write(piece)) setImmediate(more, left - 1)
      else outgoing.once('drain', () => more(left - 1))
    }
    more(HUGE / piece.length)
  })
}
