// Who is let in at the second listener, and what a foreign device sees: nothing.
import { createServer as createHttpsServer } from 'node:https'
import { request } from 'node:https'
import { connect as connectPlain, type AddressInfo } from 'node:net'
import { connect as connectTls } from 'node:tls'
import { afterEach, beforeEach, describe, expect, it } from 'vitest'
import { ROUTES } from '@guardband/model'
import { makeCertificate } from '@guardband/link/certificate'
import { pinnedRequest } from '@guardband/link/pinned-client'
import { CODE_LIFE_MS, TRIES_AN_ADDRESS } from '@guardband/link/pairing'
import { testSources } from '../test-hub.ts'
import { BENCH_PATHS, beginEntry, FORM, startSecondHub, type SecondHub } from './second-hub.ts'

let test: SecondHub
beforeEach(async () => {
  test = await startSecondHub()
})
afterEach(() => test.end())

const ALL_PATHS = [...Object.values(ROUTES), ...BENCH_PATHS].map(({ method, path }) => ({ method, path: path.replace(/:\w+/g, '019b2c3d-0000-7000-8000-000000000000') }))
const MORE_PATHS = ['/bench', '/bench/assets/phone-1a2b.js', '/bench/events', '/api/events', '/index.html', '/assets/main-4f2a.js', '/reports/x.html', '/open', '/open/new', '/.hub.json', '/bench/../secret.html', '/bench/%2e%2e/secret.html']
const formOf = (fields: Readonly<Record<string, string>>): string => new URLSearchParams(fields).toString()

describe('a device without a token', () => {
  it('gets 401 and one and the same sentence on every path but the pairing page', async () => {
    const told = new Set<string>()
    for (const { method, path } of [...ALL_PATHS, ...MORE_PATHS.map((path) => ({ method: 'GET' as const, path }))]) {
      const reply = await test.call(path, { method, ...(method === 'POST' ? { headers: { 'content-type': 'application/json' }, body: '{}' } : {}) })
      expect([method, path, reply.status]).toEqual([method, path, 401])
      told.add(reply.bytes.toString())
    }
    expect(told.size).toBe(1)
    expect([...told][0]).not.toContain('Hollin')
  })

  it('sees on the pairing page neither the lab nor anything in it', async () => {
    for (const path of ['/', '/pair.css']) {
      const reply = await test.call(path)
      expect(reply.status).toBe(200)
      for (const word of ['Hollin', 'Pike', 'north bench', 'Quillon', 'field work', 'tester']) expect(reply.bytes.toString()).not.toContain(word)
    }
  })

  it('gets 401 with a made-up cookie and a made-up bearer', async () => {
    const port = new URL(test.url).port
    const made: readonly Readonly<Record<string, string>>[] = [{ cookie: `__Host-guardband-${port}=phone-${'A'.repeat(43)}` }, { authorization: `Bearer rig-${'A'.repeat(43)}` }, { authorization: 'Bearer ' }, { cookie: `__Host-guardband-${port}=` }]
    for (const headers of made) {
      expect((await test.call('/bench/state', { headers })).status).toBe(401)
    }
  })
})

describe('a device that was let in', () => {
  it('as a phone has the bench view and nothing else of the hub: 404 on every other route', async () => {
    const phone = await test.pairPhone()
    for (const { method, path } of Object.values(ROUTES).map(({ method, path }) => ({ method, path: path.replace(/:\w+/g, '1') }))) {
      const reply = method === 'GET' ? await phone.get(path) : await phone.post(path, {})
      expect([method, path, reply.status]).toEqual([method, path, 404])
    }
    for (const path of MORE_PATHS.filter((candidate) => !candidate.startsWith('/bench'))) expect([path, (await phone.get(path)).status]).toEqual([path, 404])
    expect((await phone.post('/sync/hello', {})).status).toBe(404)
    expect((await phone.get('/bench')).bytes.toString()).toContain('bench view')
    expect((await phone.get('/bench/assets/phone-1a2b.js')).status).toBe(200)
    expect((await phone.get('/bench/state')).status).toBe(200)
    for (const path of ['/bench/../secret.html', '/bench/%2e%2e/secret.html', '/bench/..%2fsecret.html']) expect((await phone.get(path)).bytes.toString()).not.toContain('outside')
  })

  it('as a rig hands in journals and sees no bench view', async () => {
    const token = await test.pairRig()
    const authorization = `Bearer ${token}`
    expect((await test.call('/bench/state', { headers: { authorization } })).status).toBe(404)
    const reply = await test.call('/sync/hello', { method: 'POST', headers: { authorization, 'content-type': 'application/json' }, body: '{}' })
    expect(reply.status).toBe(200)
    expect(JSON.parse(reply.bytes.toString())).toMatchObject({ id: test.lab.info().lab.id })
  })

  it('cannot pass a phone\'s token off as a rig\'s, nor the other way round', async () => {
    const phone = await test.pairPhone()
    const own = phone.headers['cookie']?.split('=')[1] ?? ''
    expect((await test.call('/sync/hello', { method: 'POST', headers: { authorization: `Bearer ${own}` }, body: '' })).status).toBe(401)
    const rig = await test.pairRig()
    const port = new URL(test.url).port
    expect((await test.call('/bench/state', { headers: { cookie: `__Host-guardband-${port}=${rig}` } })).status).toBe(401)
    expect((await test.call('/bench/state', { headers: { cookie: `__Host-guardband-${port}=${rig.replace('rig', 'phone')}` } })).status).toBe(401)
  })

  it('is shut out at once when it is revoked, its open streams too, and others are not', async () => {
    const [first, second] = [await test.pairPhone('first'), await test.pairPhone('second')]
    const stream = await openStream(test, first.headers)
    const { devices } = await test.state()
    const id = devices.find(({ name }) => name === 'first')?.id
    expect((await first.get('/bench/state')).status).toBe(200)
    expect((await test.post(`/api/devices/${id}/revoke`)).status).toBe(200)
    await stream.ended
    expect((await first.get('/bench/state')).status).toBe(401)
    expect((await first.post('/bench/entries', beginEntry(test))).status).toBe(401)
    expect((await first.get('/bench')).status).toBe(401)
    expect((await second.get('/bench/state')).status).toBe(200)
    expect((await test.state()).devices.find(({ name }) => name === 'first')?.revoked).not.toBeNull()
  })

  it('is listed with its name, when it was let in and last seen; only the digest of its token is kept', async () => {
    const phone = await test.pairPhone('phone of the north bench')
    await phone.get('/bench/state')
    const { devices } = await test.state()
    expect(devices).toMatchObject([{ name: 'phone of the north bench', revoked: null }])
    expect(devices[0].seen).not.toBeNull()
    const token = phone.headers['cookie']?.split('=')[1] ?? ''
    expect(JSON.stringify(await test.state())).not.toContain(token)
    const { readFileSync } = await import('node:fs')
    for (const file of ['lab.db', 'lab.db-wal']) expect(readFileSync(`${test.lab.folder}/${file}`).includes(token)).toBe(false)
  })
})

describe('pairing over the wire', () => {
  it('gives the phone a strict cookie that no script reads and no plain connection carries', async () => {
    const { setCookie } = await test.pairPhone()
    expect(setCookie).toMatch(/^__Host-guardband-\d+=phone-[\w-]{43}; /)
    const attributes = setCookie.split('; ').slice(1).map((attribute) => attribute.replace(/^Max-Age=\d+$/, 'Max-Age')).toSorted()
    expect(attributes).toEqual(['HttpOnly', 'Max-Age', 'Path=/', 'SameSite=Strict', 'Secure'])
  })

  it('a code lets in one device and is then used up', async () => {
    const code = await test.newCode()
    const body = formOf({ code, name: 'first' })
    expect((await test.call('/pair', { method: 'POST', headers: FORM, body })).status).toBe(303)
    const again = await test.call('/pair', { method: 'POST', headers: FORM, body })
    expect(again.status).toBe(403)
    expect(again.headers['set-cookie']).toBeUndefined()
    expect((await test.state()).pairing).toEqual({ state: 'used', device: 'first' })
  })

  it('a code that is five minutes old lets nobody in', async () => {
    const code = await test.newCode()
    test.wait(CODE_LIFE_MS)
    expect((await test.call('/pair', { method: 'POST', headers: FORM, body: formOf({ code, name: 'late' }) })).status).toBe(403)
    expect((await test.state()).pairing).toEqual({ state: 'too late' })
  })

  it('too many wrong codes from an address get 429 and how long to wait, and no code counts until then', async () => {
    for (let place = 0; place < TRIES_AN_ADDRESS; place++) {
      expect((await test.call('/pair', { method: 'POST', headers: FORM, body: formOf({ code: 'AAAAAAAA', name: 'x' }) })).status).toBe(403)
    }
    const refused = await test.call('/pair', { method: 'POST', headers: FORM, body: formOf({ code: await test.newCode(), name: 'x' }) })
    expect(refused.status).toBe(429)
    expect(Number(refused.headers['retry-after'])).toBeGreaterThan(0)
    expect((await test.state()).devices).toEqual([])
  })

  it('shows what a stranger typed as text, never as markup', async () => {
    const reply = await test.call('/pair', { method: 'POST', headers: FORM, body: formOf({ code: 'x', name: '"><script>x</script>' }) })
    expect(reply.bytes.toString()).not.toContain('<script>')
  })

  it('takes a body of a few lines and no more', async () => {
    expect((await test.call('/pair', { method: 'POST', headers: FORM, body: formOf({ code: 'x', name: 'n'.repeat(5000) }) })).status).toBe(413)
  })

  it('is not begun while the listener is off, and a code dies with it', async () => {
    const code = await test.newCode()
    await test.post('/api/devices/listener', { turn: 'off' })
    expect((await test.post('/api/devices/pairing')).status).toBe(400)
    await expect(test.call('/')).rejects.toMatchObject({ code: 'ECONNREFUSED' })
    const url = await test.hub.listenForPhones({ address: '127.0.0.1', port: 0 })
    const reply = await pinnedRequest({ url: `${url}pair`, fingerprint: test.fingerprint, method: 'POST', headers: FORM, body: formOf({ code, name: 'x' }) })
    expect(reply.status).toBe(403)
  })
})

describe('Host and Origin', () => {
  it('a foreign Host gets 421, on the pairing page too and with a good token', async () => {
    const { port } = new URL(test.url)
    const phone = await test.pairPhone()
    for (const host of ['evil.example', `evil.example:${port}`, `localhost:${port}`, '127.0.0.1', `127.0.0.1:${test.hub.port}`]) {
      for (const path of ['/', '/pair.css', '/bench/state']) expect([host, (await test.call(path, { headers: { ...phone.headers, host } })).status]).toEqual([host, 421])
    }
  })

  it('another site can neither read nor enter, even in a browser that holds the cookie', async () => {
    const phone = await test.pairPhone()
    const head = test.lab.head()
    for (const headers of [{ origin: 'https://evil.example' }, { origin: 'null' }, { origin: test.url.replace('https', 'http').slice(0, -1) }]) {
      expect((await test.call('/bench/state', { headers: { ...phone.headers, ...headers } })).status).toBe(403)
    }
    const bare = { cookie: phone.headers['cookie'] ?? '', 'content-type': 'application/json' }
    expect((await test.call('/bench/entries', { method: 'POST', headers: bare, body: JSON.stringify(beginEntry(test)) })).status).toBe(403)
    expect((await test.call('/bench/entries', { method: 'POST', headers: { ...bare, 'sec-fetch-site': 'cross-site' }, body: JSON.stringify(beginEntry(test)) })).status).toBe(403)
    expect(test.lab.head()).toBe(head)
  })

  it('every reply carries the policies', async () => {
    const phone = await test.pairPhone()
    for (const reply of [await test.call('/'), await test.call('/bench/state'), await phone.get('/bench'), await phone.get('/bench/state'), await phone.get('/nothing')]) {
      expect(reply.headers['content-security-policy']).toMatch(/^default-src 'none'; script-src 'self';/)
      expect(reply.headers['x-content-type-options']).toBe('nosniff')
      expect(reply.headers['cross-origin-resource-policy']).toBe('same-origin')
    }
    expect((await phone.get('/bench/state')).headers['cache-control']).toBe('no-store')
  })
})

describe('the line', () => {
  it('speaks TLS 1.3 and nothing older', async () => {
    const { hostname, port } = new URL(test.url)
    const older = new Promise((resolve, reject) => {
      const socket = connectTls({ host: hostname, port: Number(port), rejectUnauthorized: false, maxVersion: 'TLSv1.2' }, () => resolve('connected'))
      socket.on('error', reject)
    })
    await expect(older).rejects.toMatchObject({ code: expect.stringMatching(/SSL/) })
  })

  it('tells plain HTTP in a sentence to use https, and hangs up', async () => {
    const { hostname, port } = new URL(test.url)
    const told = await new Promise<string>((resolve, reject) => {
      const socket = connectPlain({ host: hostname, port: Number(port) }, () => socket.write(`GET / HTTP/1.1\r\nHost: ${hostname}:${port}\r\n\r\n`))
      let text = ''
      socket.on('data', (piece) => (text += piece.toString()))
      socket.on('end', () => resolve(text))
      socket.on('error', reject)
    })
    expect(told).toMatch(/^HTTP\/1\.1 400 /)
    expect(told).toContain('https://')
    expect(told).not.toContain('Hollin')
  })

  it('is bound to the one address that was chosen, and to none that this machine does not have', async () => {
    await expect(test.hub.listenForPhones({ address: '0.0.0.0', port: 0 })).rejects.toMatchObject({ code: 'foreign-address' })
    await expect(test.hub.listenForPhones({ address: '203.0.113.7', port: 0 })).rejects.toMatchObject({ code: 'foreign-address' })
    // What was refused leaves the listener as it was.
    expect((await test.call('/')).status).toBe(200)
  })
})

describe('the pinned client', () => {
  it('takes the fingerprint as people copy it', async () => {
    const copied = (test.fingerprint.toUpperCase().match(/../g) ?? []).join(':')
    expect((await pinnedRequest({ url: test.url, fingerprint: copied })).status).toBe(200)
  })

  it('refuses another certificate before it sends anything, even one that is valid', async () => {
    const other = makeCertificate(['127.0.0.1'], testSources())
    const heard: string[] = []
    const impostor = createHttpsServer({ cert: other.certificate, key: other.key }, (incoming, response) => {
      heard.push(incoming.url ?? '')
      response.end('{}')
    })
    await new Promise<void>((resolve) => impostor.listen(0, '127.0.0.1', resolve))
    const { port } = impostor.address() as AddressInfo
    const url = `https://127.0.0.1:${port}/bench/state`
    // Valid for everybody who trusts it: a plain client that does gets its reply.
    const status = await new Promise((resolve, reject) => void request(url, { ca: other.certificate, agent: false }, (incoming) => resolve(incoming.resume().statusCode)).on('error', reject).end())
    expect(status).toBe(200)
    heard.length = 0
    await expect(pinnedRequest({ url, fingerprint: test.fingerprint, headers: { authorization: 'Bearer rig-secret' } })).rejects.toMatchObject({ code: 'other-certificate' })
    expect(heard).toEqual([])
    expect((await pinnedRequest({ url, fingerprint: other.fingerprint })).status).toBe(200)
    await new Promise((resolve) => impostor.close(resolve))
  })
})

interface OpenStream {
  readonly ended: Promise<void>
}

function openStream({ url }: SecondHub, headers: Readonly<Record<string, string>>): Promise<OpenStream> {
  return new Promise((resolve, reject) => {
    const outgoing = request(`${url}bench/events`, { rejectUnauthorized: false, agent: false, headers }, (incoming) => {
      if (incoming.statusCode !== 200) return reject(new Error(`the stream must open; got ${incoming.statusCode}`))
      const ended = new Promise<void>((over) => incoming.on('close', over))
      incoming.once('data', () => resolve({ ended }))
      incoming.resume()
    })
    outgoing.on('error', reject)
    outgoing.end()
  })
}
