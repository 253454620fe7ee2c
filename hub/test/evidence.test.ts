// Evidence over HTTP: kept once, served so that nothing in it runs, and no half file after a kill.
import { request } from 'node:http'
import { readdirSync } from 'node:fs'
import { join } from 'node:path'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import { errorReplySchema, EVIDENCE_LIMIT, ROUTES, type Evidence } from '@guardband/model'
import { pageHeaders, send, type Reply } from './client.ts'
import { startTestHub, testSources, type TestHub } from './test-hub.ts'

const JPEG = Uint8Array.from([0xff, 0xd8, 0xff, 0xe0, 0, 16, 1, 2, 3])
const { newId } = testSources()
let test: TestHub
beforeAll(async () => {
  test = await startTestHub()
})
afterAll(() => test.end())

function sent(bytes: Uint8Array | string, query: Readonly<Record<string, string>> = {}): Promise<Reply> {
  const search = new URLSearchParams({ request: newId(), name: 'paste.jpg', type: 'image/jpeg', about: test.sample.runIds[0], ...query })
  return test.post(`/api/evidence?${search.toString()}`, bytes === '' ? new Uint8Array() : bytes, { 'content-type': 'application/octet-stream' })
}

async function kept(bytes: Uint8Array | string, query: Readonly<Record<string, string>> = {}): Promise<Evidence> {
  const reply = await sent(bytes, query)
  expect(reply.status, reply.text).toBe(200)
  return ROUTES.keepEvidence.output.parse(JSON.parse(reply.text)).evidence
}

async function asked(reply: Promise<Reply>): Promise<readonly [number, string]> {
  const { status, text } = await reply
  return [status, errorReplySchema.parse(JSON.parse(text)).sentence]
}

describe('evidence over HTTP', () => {
  it('comes back byte for byte as an attachment that may do nothing', async () => {
    const evidence = await kept('<script>alert(1)</script>', { name: 'Größe "1"; x=\u202e.html', type: 'text/html' })
    const reply = await test.get(`/api/evidence/${evidence.id}/file`)
    expect([reply.status, reply.text]).toEqual([200, '<script>alert(1)</script>'])
    expect(reply.headers).toMatchObject({
      'content-type': 'application/octet-stream',
      'content-length': '25',
      'content-disposition': "attachment; filename*=UTF-8''Gr%C3%B6%C3%9Fe%201%3B%20x%3D.html",
      'x-content-type-options': 'nosniff',
      'content-security-policy': expect.stringMatching(/^sandbox; default-src 'none'/),
    })
    const head = await send(test.hub.port, `/api/evidence/${evidence.id}/file`, { method: 'HEAD', headers: { cookie: await test.cookie() } })
    expect([head.status, head.headers['content-length'], head.text]).toEqual([200, '25', ''])
  })

  it('may be named and noted otherwise afterwards, but stays by whom and from when it was put in', async () => {
    const evidence = await kept('a log', { name: 'log.txt', type: 'text/plain' })
    const changed = (after: Evidence): Promise<Reply> => test.post('/api/changes', { request: newId(), what: 'Changed evidence', items: [{ before: evidence, after }] })
    for (const forged of [{ by: 'somebody else' }, { at: '2020-01-01T00:00:00Z' }, { mediaType: 'image/png' }]) {
      expect(await asked(changed({ ...evidence, ...forged }))).toEqual([400, expect.stringContaining('is made by sending the file')])
    }
    expect((await changed({ ...evidence, name: 'first.txt', note: 'before the change' })).status).toBe(200)
  })

  it('is listed beside its record with its thumbnail, which is served as the picture it is', async () => {
    const evidence = await kept(Buffer.concat([JPEG, Buffer.from('whole')]), { thumbnail: String(JPEG.length), note: 'thin at one edge' })
    const listed = await test.get(`/api/evidence?about=${test.sample.runIds[0]}`)
    expect(ROUTES.evidence.output.parse(JSON.parse(listed.text)).evidence.at(-1)).toEqual(evidence)
    const small = await test.get(`/api/evidence/${evidence.id}/thumbnail`)
    expect([small.status, small.headers['content-type'], small.headers['content-length']]).toEqual([200, 'image/jpeg', '9'])
    expect((await test.get(`/api/evidence/${evidence.id}/file`)).text).toBe('whole')
  })

  it('is kept once under one request, however often it is sent', async () => {
    const query = { request: newId() }
    const [one, two] = [await kept('same', query), await kept('same', query)]
    expect(two).toEqual(one)
  })

  it('is refused with a sentence when it is too large, empty, about nothing, or its small picture is none', async () => {
    expect(await asked(sent('x', { about: newId() }))).toEqual([404, expect.stringContaining('to put it beside')])
    expect(await asked(sent('x', { about: 'a,b' }))).toEqual([400, expect.stringContaining('about must be UUIDs')])
    expect(await asked(sent(''))).toEqual([400, expect.stringContaining('the file is empty')])
    expect(await asked(sent('<svg onload=alert(1)>', { thumbnail: '21' }))).toEqual([400, expect.stringContaining('must be a JPEG or a PNG')])
    const headers = { ...pageHeaders(test.hub.port, await test.cookie()), 'content-length': String(EVIDENCE_LIMIT + 1) }
    const search = new URLSearchParams({ request: newId(), name: 'film', about: test.sample.runIds[0] })
    const status = await new Promise<number>((resolve, reject) => {
      const outgoing = request({ host: '127.0.0.1', port: test.hub.port, path: `/api/evidence?${search.toString()}`, method: 'POST', headers, agent: false }, (incoming) => {
        resolve(incoming.statusCode ?? 0)
        outgoing.destroy()
      })
      outgoing.on('error', reject)
      outgoing.write('x')
    })
    expect(status).toBe(413)
  })

  it('broken off on the way leaves neither file nor record', async () => {
    const before = test.lab.list('evidence').length
    const headers = { ...pageHeaders(test.hub.port, await test.cookie()), 'content-length': '1000000' }
    const search = new URLSearchParams({ request: newId(), name: 'film', about: test.sample.runIds[0] })
    await new Promise<void>((resolve) => {
      const outgoing = request({ host: '127.0.0.1', port: test.hub.port, path: `/api/evidence?${search.toString()}`, method: 'POST', headers, agent: false })
      outgoing.on('error', () => resolve())
      outgoing.write(Buffer.alloc(500_000, 1), () => setTimeout(() => outgoing.destroy(), 50))
    })
    const folder = join(test.lab.folder, 'evidence')
    await expect.poll(() => readdirSync(folder).filter((name) => name.startsWith('.part-'))).toEqual([])
    expect(test.lab.list('evidence').length).toBe(before)
    expect(test.lab.check()).toEqual([])
  })

  it("can't be made by a change without its file, but its note can be changed and it can be taken off", async () => {
    const evidence = await kept('content')
    const change = (before: unknown, after: unknown): Promise<Reply> => test.post('/api/changes', { request: newId(), what: 'Test', items: [{ before, after }] })
    expect((await change(null, { ...evidence, id: newId() })).status).toBe(400)
    expect((await change(evidence, { ...evidence, sha256: '0'.repeat(64) })).status).toBe(400)
    const noted = { ...evidence, note: 'the left stick' }
    expect((await change(evidence, noted)).status).toBe(200)
    expect((await change(noted, null)).status).toBe(200)
    expect((await test.get(`/api/evidence/${evidence.id}/file`)).status).toBe(404)
  })
})
