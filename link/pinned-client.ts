// A client that knows the second listener by the fingerprint of its certificate alone: any other certificate is refused before a byte of a request is sent, however well it is vouched for.
import { request } from 'node:http'
import { connect, type TLSSocket } from 'node:tls'
import { SpokenError } from '@guardband/model'
import { fingerprintOf } from './certificate.ts'

export interface PinnedRequest {
  /** `https://ADDRESS:PORT/...` */
  readonly url: string
  /** 64 hex digits; spaces, colons and capitals as people copy them do no harm. */
  readonly fingerprint: string
  readonly method?: 'GET' | 'POST'
  readonly headers?: Readonly<Record<string, string>>
  readonly body?: string | Uint8Array
  /** For the whole of it. */
  readonly patienceMs?: number
}

export interface PinnedReply {
  readonly status: number
  readonly headers: Readonly<Record<string, string | readonly string[] | undefined>>
  readonly bytes: Buffer
}

/** One request on a connection of its own. */
export async function pinnedRequest({ url, fingerprint, method = 'GET', headers = {}, body, patienceMs = PATIENCE_MS }: PinnedRequest): Promise<PinnedReply> {
  const wanted = plainFingerprint(fingerprint)
  const target = new URL(url)
  if (target.protocol !== 'https:') throw new SpokenError({ code: 'pinned-url', message: `the address must begin with https://; got ${url.slice(0, 100)}.` })
  const signal = AbortSignal.timeout(patienceMs)
  const socket = await connectPinned(target, wanted, signal)
  return new Promise((resolve, reject) => {
    const length: Record<string, string> = body === undefined ? {} : { 'content-length': String(Buffer.byteLength(body)) }
    // Plain HTTP over a line that is TLS already: node:https would ask authorities about a certificate that has been judged.
    const outgoing = request({ createConnection: () => socket, host: target.hostname, port: target.port, path: `${target.pathname}${target.search}`, method, headers: { ...length, host: target.host, connection: 'close', ...headers }, signal }, (incoming) => {
      const pieces: Buffer[] = []
      incoming.on('data', (piece: Buffer) => pieces.push(piece))
      incoming.on('end', () => resolve({ status: incoming.statusCode ?? 0, headers: incoming.headers, bytes: Buffer.concat(pieces) }))
      incoming.on('error', reject)
    })
    outgoing.on('error', reject)
    outgoing.end(body)
  })
}

/** Pairs a rig: uses the code up and returns the token that stands in its Authorization from then on. */
export async function pairRig({ url, fingerprint, code, name }: { readonly url: string; readonly fingerprint: string; readonly code: string; readonly name: string }): Promise<string> {
  const reply = await pinnedRequest({ url: new URL('/pair', url).href, fingerprint, method: 'POST', headers: { 'content-type': 'application/json' }, body: JSON.stringify({ code, name }) })
  const told: { readonly token?: unknown; readonly sentence?: unknown } = JSON.parse(reply.bytes.toString('utf8'))
  if (reply.status === 200 && typeof told.token === 'string') return told.token
  throw new SpokenError({ code: 'not-paired', place: url, message: typeof told.sentence === 'string' ? told.sentence : `the hub did not let this rig in (status ${reply.status}).` })
}

const PATIENCE_MS = 60_000

function plainFingerprint(text: string): string {
  const digits = text.replaceAll(/[\s:-]/g, '').toLowerCase()
  if (/^[0-9a-f]{64}$/.test(digits)) return digits
  throw new SpokenError({ code: 'fingerprint', message: `the fingerprint must be the 64 hex digits of a SHA-256; got ${digits.length} characters.`, mend: 'Copy it from the hub\'s page, Lab, Devices.' })
}

function connectPinned(target: URL, wanted: string, signal: AbortSignal): Promise<TLSSocket> {
  return new Promise((resolve, reject) => {
    // Authorities and names prove nothing here; what does is compared below, before anything is sent. No session is resumed: it would bring no certificate.
    const socket = connect({ host: target.hostname, port: Number(target.port === '' ? 443 : target.port), rejectUnauthorized: false, minVersion: 'TLSv1.3', ALPNProtocols: ['http/1.1'] })
    const giveUp = (): void => void socket.destroy(new Error('the listener did not answer in time'))
    signal.addEventListener('abort', giveUp, { once: true })
    socket.once('error', reject)
    socket.once('secureConnect', () => {
      signal.removeEventListener('abort', giveUp)
      const { raw } = socket.getPeerCertificate()
      if (raw !== undefined && fingerprintOf(raw) === wanted) return resolve(socket)
      socket.destroy()
      reject(
        new SpokenError({
          code: 'other-certificate', place: target.host, message: 'what answers there has another certificate than the one that was pinned; nothing was sent to it.',
          mend: 'Compare the fingerprint with the one on the hub\'s page. Pair anew only if the hub made a new certificate.',
        }),
      )
    })
  })
}
