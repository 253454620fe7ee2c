// A client that knows the second listener by the fingerprint of its certificate alone: any other certificate is refused before a byte of a request is sent, however well it is vouched for.
import { Agent, request, type ClientRequestArgs } from 'node:http'
import type { Duplex } from 'node:stream'
import { connect } from 'node:tls'
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
  /** A longer reply is broken off. */
  readonly replyBytes?: number
}

export interface PinnedReply {
  readonly status: number
  readonly headers: Readonly<Record<string, string | readonly string[] | undefined>>
  readonly bytes: Buffer
}

/** One request on a connection of its own. */
export async function pinnedRequest(asked: PinnedRequest): Promise<PinnedReply> {
  const client = createPinnedClient(asked.fingerprint)
  try {
    return await client.request(asked)
  } finally {
    client.close()
  }
}

export interface PinnedClient {
  /** One after the other they share a connection. */
  readonly request: (asked: Omit<PinnedRequest, 'fingerprint'>) => Promise<PinnedReply>
  readonly close: () => void
}

/** For more than one request to the same place: a connection that stays open costs the machine under test far less than one made anew each time. */
export function createPinnedClient(fingerprint: string): PinnedClient {
  const wanted = plainFingerprint(fingerprint)
  const agent = new PinnedAgent(wanted)
  return { request: (asked) => requestOver(agent, asked), close: () => agent.destroy() }
}

class PinnedAgent extends Agent {
  readonly #wanted: string

  constructor(wanted: string) {
    super({ keepAlive: true, maxSockets: 1, keepAliveMsecs: 10_000, timeout: IDLE_MS })
    this.#wanted = wanted
  }

  // Plain HTTP over a line that is TLS already: an agent for HTTPS would ask authorities about a certificate that has been judged.
  override createConnection(options: ClientRequestArgs, done?: (error: Error | null, stream: Duplex) => void): undefined {
    connectPinned({ host: options.host ?? '', port: Number(options.port) }, this.#wanted, done)
    return undefined
  }
}

async function requestOver(agent: Agent, { url, method = 'GET', headers = {}, body, patienceMs = PATIENCE_MS, replyBytes = REPLY_BYTES }: Omit<PinnedRequest, 'fingerprint'>): Promise<PinnedReply> {
  const target = new URL(url)
  if (target.protocol !== 'https:') throw new SpokenError({ code: 'pinned-url', message: `the address must begin with https://; got ${url.slice(0, 100)}.` })
  const signal = AbortSignal.timeout(patienceMs)
  return new Promise((resolve, reject) => {
    const length: Record<string, string> = body === undefined ? {} : { 'content-length': String(Buffer.byteLength(body)) }
    const outgoing = request({ agent, host: target.hostname, port: target.port === '' ? 443 : target.port, path: `${target.pathname}${target.search}`, method, headers: { ...length, host: target.host, ...headers }, signal }, (incoming) => {
      const pieces: Buffer[] = []
      let size = 0
      incoming.on('data', (piece: Buffer) => {
        size += piece.length
        if (size > replyBytes) outgoing.destroy(new SpokenError({ code: 'reply-too-large', place: target.host, message: `a reply must be at most ${replyBytes} bytes; got more.` }))
        else pieces.push(piece)
      })
      incoming.on('end', () => resolve({ status: incoming.statusCode ?? 0, headers: incoming.headers, bytes: Buffer.concat(pieces) }))
      incoming.on('error', reject)
    })
    outgoing.on('error', reject)
    // A request that still waits for its connection would hear of it only once that has failed too.
    signal.addEventListener('abort', () => reject(new Error('no answer came in time')), { once: true })
    outgoing.end(body)
  })
}

/** Pairs a rig: uses the code up and returns the token that stands in its Authorization from then on. */
export async function pairRig({ url, fingerprint, code, name }: { readonly url: string; readonly fingerprint: string; readonly code: string; readonly name: string }): Promise<string> {
  const reply = await pinnedRequest({ url: new URL('/pair', url).href, fingerprint, method: 'POST', headers: { 'content-type': 'application/json' }, body: JSON.stringify({ code, name }), replyBytes: PAIR_REPLY_BYTES })
  const told = tokenReply(reply.bytes)
  if (reply.status === 200 && typeof told.token === 'string') return told.token
  throw new SpokenError({ code: 'not-paired', place: url, message: typeof told.sentence === 'string' ? told.sentence : `the hub did not let this rig in (status ${reply.status}).` })
}

function tokenReply(bytes: Buffer): { readonly token?: unknown; readonly sentence?: unknown } {
  try {
    const told: unknown = JSON.parse(bytes.toString('utf8'))
    if (typeof told === 'object' && told !== null) return told
  } catch {
    // Said by whoever asked.
  }
  return {}
}

/** A token or a sentence. */
const PAIR_REPLY_BYTES = 64 * 1024
const PATIENCE_MS = 60_000
const IDLE_MS = 60_000
const CONNECT_MS = 15_000
const REPLY_BYTES = 64 * 1024 * 1024

function plainFingerprint(text: string): string {
  const digits = text.replaceAll(/[\s:-]/g, '').toLowerCase()
  if (/^[0-9a-f]{64}$/.test(digits)) return digits
  throw new SpokenError({ code: 'fingerprint', message: `the fingerprint must be the 64 hex digits of a SHA-256; got ${digits.length} characters.`, mend: 'Copy it from the hub\'s page, Lab, Devices.' })
}

function connectPinned({ host, port }: { readonly host: string; readonly port: number }, wanted: string, done: ((error: Error | null, stream: Duplex) => void) | undefined): void {
  // Authorities and names prove nothing here; what does is compared below, before anything is sent. No session is resumed: it would bring no certificate.
  const socket = connect({ host, port, rejectUnauthorized: false, minVersion: 'TLSv1.3', ALPNProtocols: ['http/1.1'] })
  let told = false
  const tell = (error: Error | null): void => {
    clearTimeout(patience)
    if (told) return
    told = true
    done?.(error, socket)
  }
  const patience = setTimeout(() => void socket.destroy(new Error('the listener did not answer in time')), CONNECT_MS).unref()
  socket.once('error', tell)
  socket.once('close', () => tell(new Error('the listener hung up')))
  socket.once('secureConnect', () => {
    const { raw } = socket.getPeerCertificate()
    if (raw !== undefined && fingerprintOf(raw) === wanted) return tell(null)
    tell(
      new SpokenError({
        code: 'other-certificate', place: `${host}:${port}`, message: 'what answers there has another certificate than the one that was pinned; nothing was sent to it.',
        mend: 'Compare the fingerprint with the one on the hub\'s page. Pair anew only if the hub made a new certificate.',
      }),
    )
    socket.destroy()
  })
}
