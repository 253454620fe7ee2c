// Who is let in, and what is refused before anything is done.
import { afterEach, describe, expect, it } from 'vitest'
import { mkdtempSync, statSync, writeFileSync } from 'node:fs'
import { createServer } from 'node:http'
import type { AddressInfo } from 'node:net'
import { join } from 'node:path'
import { askForUrl, BEACON_FILE, startHub } from '../index.ts'
import { pageHeaders, send } from './client.ts'
import { startTestHub, testSources, type TestHub } from './test-hub.ts'

const open: TestHub[] = []
async function begin(options?: Parameters<typeof startTestHub>[0]): Promise<TestHub> {
  const test = await startTestHub(options)
  open.push(test)
  return test
}
afterEach(async () => {
  await Promise.all(open.splice(0).map((test) => test.end()))
})
const pathOf = (url: string): string => url.slice(url.indexOf('/open'))
const sentenceOf = (text: string): string => (JSON.parse(text) as { sentence: string }).sentence

describe('Host', () => {
  it('is refused with 421 when it names anything but loopback with the port, even with a good session', async () => {
    const { hub, get } = await begin()
    for (const host of ['evil.example', `evil.example:${hub.port}`, '127.0.0.1', 'localhost', `127.0.0.1:${hub.port + 1}`, `localhost.evil.example:${hub.port}`, '0.0.0.0:1', `127.0.0.1.:${hub.port}`]) {
      const reply = await get('/api/lab', { host })
      expect([host, reply.status]).toEqual([host, 421])
      expect(sentenceOf(reply.text)).toContain('Host must be')
    }
  })

  it('does not let a foreign name use up a token', async () => {
    const { hub } = await begin()
    const path = pathOf(hub.newOpenUrl())
    expect((await send(hub.port, path, { headers: { host: 'evil.example' } })).status).toBe(421)
    expect((await send(hub.port, path)).status).toBe(200)
  })

  it('may be localhost with the port', async () => {
    const { hub, get } = await begin()
    expect((await get('/api/lab', { host: `localhost:${hub.port}` })).status).toBe(200)
  })
})

describe('Origin', () => {
  it('is refused when it is not the page itself, for reading and for changing', async () => {
    const { hub, get, post, sample, lab } = await begin()
    const head = lab.head()
    for (const origin of ['https://evil.example', 'null', `http://127.0.0.1:${hub.port + 1}`, `https://127.0.0.1:${hub.port}`, `http://localhost:${hub.port}`]) {
      expect([origin, (await get('/api/lab', { origin })).status]).toEqual([origin, 403])
      expect([origin, (await post(`/api/runs/${sample.runIds[0]}/set-aside`, { reason: 'x' }, { origin })).status]).toEqual([origin, 403])
    }
    expect(lab.head()).toBe(head)
  })

  it('is not needed to refuse a read that the browser says another site began', async () => {
    const { get } = await begin()
    for (const site of ['cross-site', 'same-site']) expect([site, (await get('/api/lab', { 'sec-fetch-site': site })).status]).toEqual([site, 403])
    for (const site of ['same-origin', 'none']) expect([site, (await get('/api/lab', { 'sec-fetch-site': site })).status]).toEqual([site, 200])
  })

  it('does not keep out a person who follows a link from another site', async () => {
    const { get } = await begin()
    const link = { 'sec-fetch-site': 'cross-site', 'sec-fetch-mode': 'navigate', 'sec-fetch-dest': 'document', accept: 'text/html' }
    expect((await get('/questions', link)).status).toBe(200)
    expect((await get('/questions', { ...link, 'sec-fetch-dest': 'iframe' })).status).toBe(403)
  })

  it('must be there for a change unless the browser vouches in Sec-Fetch-Site', async () => {
    const { hub, cookie, sample } = await begin()
    const path = `/api/runs/${sample.runIds[0]}/set-aside`
    const bare = { cookie: await cookie(), 'content-type': 'application/json' }
    const body = JSON.stringify({ reason: 'fan stopped' })
    expect((await send(hub.port, path, { method: 'POST', headers: bare, body })).status).toBe(403)
    expect((await send(hub.port, path, { method: 'POST', headers: { ...bare, 'sec-fetch-site': 'cross-site' }, body })).status).toBe(403)
    expect((await send(hub.port, path, { method: 'POST', headers: { ...bare, 'sec-fetch-site': 'same-site' }, body })).status).toBe(403)
    expect((await send(hub.port, path, { method: 'POST', headers: { ...bare, 'sec-fetch-site': 'same-origin' }, body })).status).toBe(200)
  })
})

describe('the door', () => {
  it('opens once for a token, with a strict cookie that scripts cannot read', async () => {
    const { hub } = await begin()
    const first = await send(hub.port, pathOf(hub.url))
    expect(first.status).toBe(200)
    expect(first.headers['content-type']).toContain('text/html')
    expect(first.text).toContain('<meta http-equiv="refresh" content="0; url=/">')
    const cookie = first.headers['set-cookie']?.[0] ?? ''
    expect(cookie).toMatch(/^guardband-\d+=[\w-]{43}; /)
    expect(cookie.split('; ').slice(1).toSorted()).toEqual(['HttpOnly', 'Path=/', 'SameSite=Strict'])
    const second = await send(hub.port, pathOf(hub.url))
    expect(second.status).toBe(401)
    expect(second.headers['set-cookie']).toBeUndefined()
  })

  it('stays shut for a token older than ten minutes', async () => {
    const { hub, wait } = await begin()
    const late = pathOf(hub.newOpenUrl())
    wait(9 * 60_000)
    const inTime = pathOf(hub.newOpenUrl())
    wait(60_000)
    expect((await send(hub.port, late)).status).toBe(401)
    expect((await send(hub.port, inTime)).status).toBe(200)
  })

  it('does not count a HEAD, which link checkers send, as a use', async () => {
    const { hub } = await begin()
    expect((await send(hub.port, pathOf(hub.url), { method: 'HEAD' })).status).toBe(401)
    expect((await send(hub.port, pathOf(hub.url))).status).toBe(200)
  })

  it('gives a second local user nothing without the token: page, API, events, assets, reports', async () => {
    const { hub, sample, lab } = await begin()
    const head = lab.head()
    for (const path of ['/', '/questions', '/api/lab', '/api/runs', '/api/events', '/assets/main-4f2a.js', '/reports/x.html', '/open', '/open?token=', `/open?token=${'A'.repeat(43)}`]) {
      const reply = await send(hub.port, path)
      expect([path, reply.status]).toEqual([path, 401])
      expect(sentenceOf(reply.text)).toContain('npx guardband start')
    }
    const guessed = pageHeaders(hub.port, `guardband-${hub.port}=${'A'.repeat(43)}`)
    expect((await send(hub.port, `/api/runs/${sample.runIds[0]}/set-aside`, { method: 'POST', headers: guessed, body: '{"reason":"x"}' })).status).toBe(401)
    expect(lab.head()).toBe(head)
  })

  it('tells a browser in a page what to do, in a page', async () => {
    const { hub } = await begin()
    const reply = await send(hub.port, '/questions', { headers: { accept: 'text/html' } })
    expect(reply.status).toBe(401)
    expect(reply.headers['content-type']).toContain('text/html')
    expect(reply.text).toContain('npx guardband start')
  })

  it('knows a token that the caller made before', async () => {
    const token = 'x'.repeat(43)
    const { hub } = await begin({ token })
    expect(hub.url).toBe(`http://127.0.0.1:${hub.port}/open?token=${token}`)
    expect((await send(hub.port, pathOf(hub.url))).status).toBe(200)
  })

  it('every reply carries the policies', async () => {
    const { get, hub } = await begin()
    for (const reply of [await get('/'), await get('/api/lab'), await get('/api/none'), await send(hub.port, '/'), await get('/api/lab', { host: 'evil.example' })]) {
      expect(reply.headers['content-security-policy']).toMatch(/^default-src 'none'; script-src 'self'; style-src 'self';/)
      expect(reply.headers['content-security-policy']).not.toContain('unsafe')
      expect(reply.headers['x-content-type-options']).toBe('nosniff')
      expect(reply.headers['referrer-policy']).toBe('no-referrer')
      expect(reply.headers['cross-origin-opener-policy']).toBe('same-origin')
      expect(reply.headers['cross-origin-resource-policy']).toBe('same-origin')
    }
    expect((await get('/api/lab')).headers['cache-control']).toBe('no-store')
  })
})

describe('the running hub', () => {
  it('is found by its own user, who gets a fresh address from it', async () => {
    const { hub, lab } = await begin()
    const url = await askForUrl(lab.folder, testSources())
    expect(url).toMatch(new RegExp(`^http://127\\.0\\.0\\.1:${hub.port}/open\\?token=`))
    expect((await send(hub.port, pathOf(url ?? ''))).status).toBe(200)
  })

  it('keeps what it is found by readable for its owner only', async () => {
    const { lab } = await begin()
    expect(statSync(join(lab.folder, BEACON_FILE)).mode & 0o777).toBe(0o600)
  })

  it('gives no address to somebody who cannot prove the secret', async () => {
    const { hub } = await begin()
    const wrong: readonly Record<string, string>[] = [{}, { 'x-guardband-nonce': 'n', 'x-guardband-proof': 'p' }]
    for (const headers of wrong) {
      const reply = await send(hub.port, '/open/new', { method: 'POST', headers })
      expect(reply.status).toBe(403)
      expect(reply.text).not.toContain('token=')
    }
  })

  it('is not believed when somebody else answers on the port of a dead one', async () => {
    const { lab, root } = await begin()
    const heard: string[] = []
    const stranger = createServer((request, response) => {
      heard.push(JSON.stringify(request.headers))
      response.end(JSON.stringify({ url: 'http://127.0.0.1:1/open?token=trap', proof: request.headers['x-guardband-proof'] }))
    })
    await new Promise<void>((resolve) => stranger.listen(0, '127.0.0.1', resolve))
    const { port } = stranger.address() as AddressInfo
    const secret = 'z'.repeat(43)
    const folder = mkdtempSync(join(root, 'dead-'))
    writeFileSync(join(folder, BEACON_FILE), JSON.stringify({ port, pid: 1, secret }))
    expect(await askForUrl(folder, testSources())).toBeUndefined()
    expect(heard).toHaveLength(1)
    expect(heard[0]).not.toContain(secret)
    expect(await askForUrl(lab.folder, testSources())).toBeDefined()
    await new Promise((resolve) => stranger.close(resolve))
  })

  it('has its workspace to itself', async () => {
    const { root, lab } = await begin()
    const second = startHub({
      lab, host: '127.0.0.1', port: 0, webFolder: join(root, 'web'), who: 'x', sources: { ...testSources(), say: () => undefined }, createOwnLab: () => Promise.resolve(lab),
    })
    await expect(second).rejects.toMatchObject({ code: 'hub-running' })
  })

  it('says which port to try when its own is taken, and leaves the workspace free', async () => {
    const first = await begin()
    const other = await begin()
    await other.hub.close()
    const { createLab } = await import('@guardband/lab')
    const lab = createLab(join(other.root, 'third'), { name: 'third', currency: '' }, testSources())
    const options = { lab, host: '127.0.0.1' as const, webFolder: other.root, who: 'x', sources: { ...testSources(), say: () => undefined }, createOwnLab: () => Promise.resolve(lab) }
    await expect(startHub({ ...options, port: first.hub.port })).rejects.toMatchObject({ code: 'port-taken', sentence: expect.stringContaining('PORT=') })
    const third = await startHub({ ...options, port: 0 })
    await third.close()
  })
})
