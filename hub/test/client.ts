// A client that can send what a browser would refuse to: any Host, any Origin, paths with dots in them, bodies without an end.
import { request, type IncomingHttpHeaders } from 'node:http'

export interface Reply {
  readonly status: number
  readonly headers: IncomingHttpHeaders
  readonly text: string
}

export interface Ask {
  readonly method?: string
  readonly headers?: Readonly<Record<string, string>>
  readonly body?: string | Uint8Array
}

/** Sends one request on a connection of its own. */
export function send(port: number, path: string, { method = 'GET', headers = {}, body }: Ask = {}): Promise<Reply> {
  return new Promise((resolve, reject) => {
    const length: Record<string, string> = body === undefined ? {} : { 'content-length': String(Buffer.byteLength(body)) }
    const outgoing = request({ host: '127.0.0.1', port, path, method, agent: false, headers: { ...length, ...headers } }, (incoming) => {
      const pieces: Buffer[] = []
      incoming.on('data', (piece: Buffer) => pieces.push(piece))
      incoming.on('end', () => resolve({ status: incoming.statusCode ?? 0, headers: incoming.headers, text: Buffer.concat(pieces).toString('utf8') }))
      incoming.on('error', reject)
    })
    outgoing.on('error', reject)
    outgoing.end(body)
  })
}

/** The cookie that a one-time URL turns into. */
export async function enter(port: number, url: string): Promise<string> {
  const reply = await send(port, url.slice(url.indexOf('/open')))
  const cookie = reply.headers['set-cookie']?.[0]?.split(';')[0]
  if (reply.status !== 200 || cookie === undefined) throw new Error(`the door must open; got ${reply.status} ${reply.text}`)
  return cookie
}

/** The headers of the page's own scripts. */
export function pageHeaders(port: number, cookie: string): Record<string, string> {
  return { cookie, origin: `http://127.0.0.1:${port}`, 'sec-fetch-site': 'same-origin', 'content-type': 'application/json' }
}
