// A workspace taken elsewhere and back over HTTP: downloads behind the session, a backup, and an export opened in its place.
import { existsSync, readdirSync } from 'node:fs'
import { request } from 'node:http'
import { join } from 'node:path'
import { afterEach, beforeEach, describe, expect, it } from 'vitest'
import { errorReplySchema, ROUTES } from '@guardband/model'
import { pageHeaders, send } from './client.ts'
import { startTestHub, testSources, type TestHub } from './test-hub.ts'

let test: TestHub
beforeEach(async () => {
  test = await startTestHub()
})
afterEach(() => test.end())

interface Got {
  readonly status: number
  readonly headers: Readonly<Record<string, unknown>>
  readonly bytes: Buffer
}

async function download(form: string): Promise<Got> {
  const cookie = await test.cookie()
  return new Promise((resolve, reject) => {
    request({ host: '127.0.0.1', port: test.hub.port, path: `/api/moving/export/${form}`, headers: { cookie }, agent: false }, (incoming) => {
      const pieces: Buffer[] = []
      incoming.on('data', (piece: Buffer) => pieces.push(piece))
      incoming.on('end', () => resolve({ status: incoming.statusCode ?? 0, headers: incoming.headers, bytes: Buffer.concat(pieces) }))
      incoming.on('error', reject)
    })
      .on('error', reject)
      .end()
  })
}

describe('an export', () => {
  it.each(['json', 'csv', 'archive'])('as %s comes as a download, and opened again it is served with the same digest', async (form) => {
    const digest = test.lab.moving.digest()
    const got = await download(form)
    expect(got.status).toBe(200)
    expect(got.headers).toMatchObject({ 'content-disposition': expect.stringMatching(/^attachment; filename\*=UTF-8''Hollin%20%26%20Pike%20(?:records|workspace)/), 'content-security-policy': expect.stringMatching(/^sandbox/) })
    const reply = await test.post('/api/moving/open?file=lab.zip', got.bytes, { 'content-type': 'application/octet-stream' })
    expect(ROUTES.openExport.output.parse(JSON.parse(reply.text))).toMatchObject({ lab: 'Hollin & Pike', digest, missing: 0 })
    const served = ROUTES.lab.output.parse(JSON.parse((await test.get('/api/lab')).text))
    expect([served.folder.endsWith('imported'), served.counts.runs]).toEqual([true, test.sample.runIds.length])
  })

  it('is for those who were let in only, and in a form that there is', async () => {
    expect((await send(test.hub.port, '/api/moving/export/json')).status).toBe(401)
    expect((await download('exe')).status).toBe(404)
    const head = await send(test.hub.port, '/api/moving/export/archive', { method: 'HEAD', headers: { cookie: await test.cookie() } })
    expect([head.status, head.text]).toEqual([200, ''])
  })

  it('that nobody reads to its end leaves nothing behind', async () => {
    const cookie = await test.cookie()
    await new Promise<void>((resolve) => {
      const outgoing = request({ host: '127.0.0.1', port: test.hub.port, path: '/api/moving/export/archive', headers: { cookie }, agent: false }, (incoming) => {
        incoming.once('data', () => outgoing.destroy())
        incoming.on('error', () => undefined)
        incoming.on('close', () => resolve())
      })
      outgoing.on('error', () => resolve())
      outgoing.end()
    })
    await expect.poll(() => readdirSync(test.lab.folder).filter((name) => name.startsWith('.copy-'))).toEqual([])
  })
})

describe('opening an export', () => {
  it('that is none is refused with its name, and the workspace served stays', async () => {
    const reply = await test.post('/api/moving/open?file=runs.csv', Buffer.from('part,sample\n'), { 'content-type': 'application/octet-stream' })
    expect([reply.status, errorReplySchema.parse(JSON.parse(reply.text)).sentence]).toEqual([400, expect.stringMatching(/^runs\.csv: it is no export of a workspace/)])
    expect(ROUTES.lab.output.parse(JSON.parse((await test.get('/api/lab')).text)).folder).toBe(test.lab.folder)
  })

  it('is followed under the id that the page chose, and cancelled under it makes nothing', async () => {
    const { bytes } = await download('json')
    const id = testSources().newId()
    const where = `/api/moving/open/${id}`
    const standing = async (): Promise<unknown> => ROUTES.openProgress.output.parse(JSON.parse((await test.get(`${where}/progress`)).text))
    expect(await standing()).toEqual({ doing: 'nothing', done: 0, all: 0 })
    expect(JSON.parse((await test.post(`${where}/cancel`, {})).text)).toEqual({ cancelled: false })
    const opening = test.post(`/api/moving/open?file=lab.json&id=${id}`, bytes, { 'content-type': 'application/octet-stream' })
    await expect.poll(standing, { interval: 2 }).not.toMatchObject({ doing: 'nothing' })
    expect(JSON.parse((await test.post(`${where}/cancel`, {})).text)).toEqual({ cancelled: true })
    const reply = await opening
    expect([reply.status, errorReplySchema.parse(JSON.parse(reply.text)).code]).toEqual([400, 'import-cancelled'])
    expect(existsSync(join(test.root, 'own')) ? readdirSync(join(test.root, 'own')) : []).toEqual([])
    expect(await standing()).toEqual({ doing: 'nothing', done: 0, all: 0 })
  })

  it('from another site is refused', async () => {
    const headers = { ...pageHeaders(test.hub.port, await test.cookie()), origin: 'http://elsewhere' }
    expect((await send(test.hub.port, '/api/moving/open?file=x', { method: 'POST', headers, body: 'x' })).status).toBe(403)
  })
})

describe('a backup', () => {
  it('is made beside the workspace, and its day is known from then on', async () => {
    expect(ROUTES.moving.output.parse(JSON.parse((await test.get('/api/moving')).text)).lastBackup).toBeNull()
    const made = ROUTES.backup.output.parse(JSON.parse((await test.post('/api/moving/backup', {})).text))
    expect([existsSync(made.folder), made.digest, made.findings]).toEqual([true, test.lab.moving.digest(), []])
    expect(ROUTES.moving.output.parse(JSON.parse((await test.get('/api/moving')).text)).lastBackup).toEqual({ at: made.at, folder: made.folder })
  })

  it('needs no check to be believed, but the check can be asked for', async () => {
    expect(ROUTES.check.output.parse(JSON.parse((await test.post('/api/moving/check', {})).text))).toEqual({ findings: [] })
  })
})
