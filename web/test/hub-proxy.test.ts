// The page served by Vite over a hub that, like the real one, answers only to its own Host and Origin.
import { createServer as createHttpServer, request, type IncomingHttpHeaders } from 'node:http'
import type { AddressInfo } from 'node:net'
import { fileURLToPath } from 'node:url'
import { afterAll, beforeAll, expect, test } from 'vitest'
import { createServer, type ViteDevServer } from 'vite'
import { hubProxy } from '../hub-proxy.ts'

const seen: { readonly url: string; readonly headers: IncomingHttpHeaders }[] = []
const hub = createHttpServer((incoming, response) => {
  seen.push({ url: incoming.url ?? '', headers: incoming.headers })
  response.end('from the hub')
})
let vite: ViteDevServer
let hubHost: string

beforeAll(async () => {
  await new Promise<void>((resolve) => hub.listen(0, '127.0.0.1', resolve))
  // A server that listens on a port has an address of this shape.
  hubHost = `127.0.0.1:${(hub.address() as AddressInfo).port}`
  vite = await createServer({
    root: fileURLToPath(new URL('..', import.meta.url)), configFile: false, logLevel: 'silent', optimizeDeps: { noDiscovery: true },
    server: { host: '127.0.0.1', port: 0, ws: false, watch: null, proxy: hubProxy(`http://${hubHost}/`) },
  })
  await vite.listen()
})
afterAll(async () => {
  await vite.close()
  hub.close()
})

function send(path: string, method: string, origin: string | undefined): Promise<string> {
  const address = vite.httpServer?.address()
  if (typeof address !== 'object' || address === null) throw new Error('Vite must listen on a port; got none')
  const { port } = address
  return new Promise((resolve, reject) => {
    const outgoing = request({ host: '127.0.0.1', port, path, method, agent: false, headers: { host: `localhost:${port}`, ...(origin === undefined ? {} : { origin }) } }, (incoming) => {
      incoming.setEncoding('utf8')
      let text = ''
      incoming.on('data', (piece: string) => (text += piece))
      incoming.on('end', () => resolve(text))
    })
    outgoing.on('error', reject)
    outgoing.end()
  })
}

test.each([['/api/lab', 'GET', undefined], ['/api/questions', 'POST', 'http://localhost:5173'], ['/reports/1.html', 'GET', undefined], ['/open?token=x', 'GET', undefined]] as const)(
  '%s reaches the hub with its own Host, and with its own Origin where there is one',
  async (path, method, origin) => {
    expect(await send(path, method, origin)).toBe('from the hub')
    const last = seen.at(-1)
    expect([last?.url, last?.headers.host, last?.headers.origin]).toEqual([path, hubHost, origin === undefined ? undefined : `http://${hubHost}`])
  },
)
