// A hub as far as a rig sees one, kept in memory, that a test may make lie, lag or vanish. Not a test by itself.
import { once } from 'node:events'
import { createServer, type ServerOptions } from 'node:https'
import type { IncomingMessage, ServerResponse } from 'node:http'
import { connect, createServer as createPlainServer, type AddressInfo, type Socket } from 'node:net'
import { onTestFinished } from 'vitest'
import { createIdFactory, sha256Hex, SYNC_ROUTES, type LiveState } from '@guardband/model'
import { makeCertificate } from '@guardband/link/certificate'
import { startTlsServer } from '@guardband/link/tls-server'
import type { Place } from '../sync/places.ts'

export interface PlayedPlace {
  readonly place: Place
  readonly id: string
  readonly journals: ReadonlyMap<string, Buffer>
  /** The SHA-256 of each file, as often as it came. */
  readonly kept: readonly string[]
  readonly states: readonly LiveState[]
  /** Bytes of pieces that came. */
  readonly pieces: readonly number[]
  /** Whose pieces they were. */
  readonly order: readonly string[]
  wishes: Readonly<Record<string, unknown>>
  saw: readonly unknown[]
  /** True: this request is dealt with already. */
  twist: (asked: IncomingMessage, reply: ServerResponse) => boolean
  readonly put: (journal: string, bytes: Buffer) => void
  readonly open: () => Promise<void>
  readonly close: () => Promise<void>
}

const sources = { now: () => Date.now(), fillRandom: (bytes: Uint8Array): void => void crypto.getRandomValues(bytes) }
const newId = createIdFactory(sources)
const TOKEN = 'a-token'

export async function startPlayedPlace(): Promise<PlayedPlace> {
  const certificate = makeCertificate(['127.0.0.1'], sources)
  const journals = new Map<string, Buffer>()
  const kept: string[] = []
  const states: LiveState[] = []
  const pieces: number[] = []
  const order: string[] = []
  const id = newId()
  const held = (journal: string) => {
    const bytes = journals.get(journal) ?? Buffer.alloc(0)
    return { bytes: bytes.length, sha256: sha256Hex(bytes) }
  }
  const answer = (asked: IncomingMessage, body: Buffer): readonly [number, unknown] => {
    const { pathname, searchParams } = new URL(asked.url ?? '', 'https://played')
    const journal = pathname.split('/')[3] ?? ''
    if (asked.headers.authorization !== `Bearer ${TOKEN}`) return [401, { code: 'token', sentence: 'this device is not let in.' }]
    if (pathname === SYNC_ROUTES.hello.path) return [200, { id, name: 'Hollin & Pike', now: Date.now() }]
    if (pathname === SYNC_ROUTES.state.path) {
      states.push(SYNC_ROUTES.state.input.parse(JSON.parse(body.toString('utf8'))).state)
      return [200, { now: Date.now(), answers: [], stop: false, ...played.wishes }]
    }
    if (pathname === SYNC_ROUTES.keep.path) {
      kept.push(sha256Hex(body))
      return [200, { kept: true }]
    }
    if (pathname.endsWith('/seen')) return [200, { saw: played.saw }]
    if (pathname.endsWith('/held')) return [200, held(journal)]
    const before = journals.get(journal) ?? Buffer.alloc(0)
    if (Number(searchParams.get('offset')) !== before.length) return [409, { code: 'journal-gap', sentence: 'the piece must begin where the last one ended.' }]
    pieces.push(body.length)
    order.push(journal)
    journals.set(journal, Buffer.concat([before, body]))
    return [200, { held: held(journal), runs: 0, remarks: [] }]
  }
  const makeServer = (options: ServerOptions) =>
    createServer(options, (asked, reply) => {
      const parts: Buffer[] = []
      asked.on('data', (part: Buffer) => void parts.push(part))
      asked.on('end', () => {
        if (played.twist(asked, reply)) return
        const [status, told] = answer(asked, Buffer.concat(parts))
        reply.writeHead(status, { 'content-type': 'application/json' }).end(JSON.stringify(told))
      })
    })
  const listen = (port: number) => startTlsServer({ address: '127.0.0.1', port, certificate, makeServer })
  let server = await listen(0)
  onTestFinished(() => server.close())
  const { port } = server
  const played: PlayedPlace = {
    place: { origin: `https://127.0.0.1:${port}`, fingerprint: certificate.fingerprint, token: TOKEN, name: 'Hollin & Pike' },
    id, journals, kept, states, pieces, order,
    wishes: {},
    saw: [],
    twist: () => false,
    put: (journal, bytes) => void journals.set(journal, bytes),
    open: async () => void (server = await listen(port)),
    close: () => server.close(),
  }
  return played
}

export interface WeakLine {
  readonly url: string
  /** Bytes of a connection towards the hub, after which it is cut. */
  dropAfter: number
  dropped: number
  readonly close: () => Promise<void>
}

/** A network that may be cut at any byte. */
export async function startWeakLine(port: number): Promise<WeakLine> {
  const open = new Set<Socket>()
  const server = createPlainServer((near) => {
    const far = connect(port, '127.0.0.1')
    let passed = 0
    for (const socket of [near, far]) {
      open.add(socket)
      socket.on('error', () => socket.destroy())
      socket.on('close', () => {
        open.delete(socket)
        near.destroy()
        far.destroy()
      })
    }
    far.pipe(near)
    near.on('data', (bytes: Buffer) => {
      const left = network.dropAfter - passed
      passed += bytes.length
      if (bytes.length <= left) return void far.write(bytes)
      network.dropped += 1
      far.write(bytes.subarray(0, Math.max(0, left)), () => far.resetAndDestroy())
      near.resetAndDestroy()
    })
  }).listen(0, '127.0.0.1')
  await once(server, 'listening')
  const network: WeakLine = {
    // A server that listens on a port has an address of this shape.
    url: `https://127.0.0.1:${(server.address() as AddressInfo).port}`,
    dropAfter: Infinity, dropped: 0,
    close: async () => {
      for (const socket of open) socket.destroy()
      server.close()
      await once(server, 'close')
    },
  }
  return network
}
