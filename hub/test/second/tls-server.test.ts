// What the line itself withstands: many connections, slow ones, and those that break off.
import { connect, type Socket } from 'node:net'
import { connect as connectTls } from 'node:tls'
import { afterEach, beforeEach, describe, expect, it } from 'vitest'
import { makeCertificate, type ListenerCertificate } from '@guardband/link/certificate'
import { pinnedRequest } from '@guardband/link/pinned-client'
import { CONNECTIONS_AN_ADDRESS, startTlsServer, type TlsServer } from '@guardband/link/tls-server'
import { fetchServer } from '../../second/fetch-server.ts'
import { testSources } from '../test-hub.ts'

/** Short enough for a test, long enough for a busy machine to answer the quick. */
const PATIENCE = { handshake: 700, headers: 700, request: 900, idle: 700 }

let certificate: ListenerCertificate
let server: TlsServer
const sockets: Socket[] = []
beforeEach(async () => {
  certificate = makeCertificate(['127.0.0.1'], testSources())
  server = await startTlsServer({ address: '127.0.0.1', port: 0, certificate, patience: PATIENCE, makeServer: fetchServer(async (request) => new Response(`got ${(await request.text()).length}`)) })
})
afterEach(async () => {
  for (const socket of sockets.splice(0)) socket.destroy()
  await server.close()
})

function ask(): Promise<string> {
  return pinnedRequest({ url: `https://127.0.0.1:${server.port}/`, fingerprint: certificate.fingerprint }).then((reply) => reply.bytes.toString())
}

function open(): Promise<Socket> {
  return new Promise((resolve, reject) => {
    const socket = connect({ host: '127.0.0.1', port: server.port }, () => resolve(socket))
    sockets.push(socket)
    socket.on('error', reject)
  })
}

/** Resolves when the other side has hung up. */
function hungUp(socket: Socket): Promise<void> {
  return new Promise((resolve) => {
    socket.on('close', () => resolve())
    socket.on('error', () => resolve())
    socket.resume()
  })
}

function openTls(): Promise<Socket> {
  return new Promise((resolve, reject) => {
    const socket = connectTls({ host: '127.0.0.1', port: server.port, rejectUnauthorized: false }, () => resolve(socket))
    sockets.push(socket)
    socket.on('error', reject)
  })
}

describe('the line', () => {
  it('hangs up on somebody who connects and says nothing', async () => {
    await hungUp(await open())
    expect(await ask()).toBe('got 0')
  })

  it('hangs up in the middle of a handshake that does not go on', async () => {
    const socket = await open()
    const gone = hungUp(socket)
    // The head of a TLS record that promises 512 bytes.
    socket.write(Buffer.from([0x16, 0x03, 0x01, 0x02, 0x00]))
    await gone
    expect(await ask()).toBe('got 0')
  })

  it('hangs up on headers that come a line at a time without end', async () => {
    const socket = await openTls()
    const gone = hungUp(socket)
    socket.write('GET / HTTP/1.1\r\nHost: x\r\n')
    const drip = setInterval(() => socket.write('X-Slow: 1\r\n'), 100)
    await gone
    clearInterval(drip)
    expect(await ask()).toBe('got 0')
  })

  it('hangs up on a body that comes a byte at a time', async () => {
    const socket = await openTls()
    const gone = hungUp(socket)
    socket.write('POST / HTTP/1.1\r\nHost: x\r\nContent-Length: 1000000\r\n\r\n')
    const drip = setInterval(() => socket.write('x'), 100)
    await gone
    clearInterval(drip)
    expect(await ask()).toBe('got 0')
  })

  it('refuses an address that has its number of connections open, and takes it again when one is free', async () => {
    const held = await Promise.all(Array.from({ length: CONNECTIONS_AN_ADDRESS }, openTls))
    await expect(ask()).rejects.toMatchObject({ code: expect.stringMatching(/ECONNRESET|EPIPE/) })
    const gone = hungUp(held[0])
    held[0].destroy()
    await gone
    await expect.poll(() => ask().catch(() => 'refused')).toBe('got 0')
  })

  it('refuses headers of more than 8 kB', async () => {
    const reply = await pinnedRequest({ url: `https://127.0.0.1:${server.port}/`, fingerprint: certificate.fingerprint, headers: { 'x-large': 'x'.repeat(9000) } })
    expect(reply.status).toBe(431)
  })

  it('ends connections that are open when it closes', async () => {
    const socket = await openTls()
    const gone = hungUp(socket)
    await server.close()
    await gone
  })
})
