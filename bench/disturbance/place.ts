// A hub as far as a rig's link needs one, in a process of its own: keeps what is handed over, and counts. Prints where it listens as a line of JSON.
import { createServer } from 'node:https'
import type { ServerOptions } from 'node:https'
import { createIdFactory, sha256Hex } from '@guardband/model'
import { makeCertificate, startTlsServer } from '@guardband/link'

const sources = { now: () => Date.now(), fillRandom: (bytes: Uint8Array): void => void crypto.getRandomValues(bytes) }
const certificate = makeCertificate(['127.0.0.1'], sources)
const id = createIdFactory(sources)()
const journals = new Map<string, Buffer>()
let states = 0

const { port } = await startTlsServer({
  address: '127.0.0.1', port: 0, certificate,
  makeServer: (options: ServerOptions) =>
    createServer(options, (asked, reply) => {
      const parts: Buffer[] = []
      asked.on('data', (part: Buffer) => void parts.push(part))
      asked.on('end', () => reply.writeHead(200, { 'content-type': 'application/json' }).end(JSON.stringify(answer(asked.url ?? '', Buffer.concat(parts)))))
    }),
})
process.on('message', () => process.send?.(states))
process.send?.({ origin: `https://127.0.0.1:${port}`, fingerprint: certificate.fingerprint, token: 'bench', name: 'bench' })

function answer(url: string, body: Buffer): unknown {
  const { pathname } = new URL(url, 'https://place')
  if (pathname === '/sync/hello') return { id, name: 'bench', now: Date.now() }
  if (pathname.endsWith('/seen')) return { saw: [] }
  if (pathname === '/sync/state') {
    states += 1
    return { now: Date.now(), answers: [], stop: false }
  }
  const journal = pathname.split('/')[3] ?? ''
  const held = Buffer.concat([journals.get(journal) ?? Buffer.alloc(0), body])
  journals.set(journal, held)
  const told = { bytes: held.length, sha256: sha256Hex(held) }
  return pathname.endsWith('/held') ? told : { held: told, runs: 0, remarks: [] }
}
