// What a companion answers over the line: pairing, and the same contract as a hub's second listener. Whatever else comes gets a status and a sentence.
import { createServer, type Server, type ServerOptions } from 'node:https'
import type { IncomingMessage } from 'node:http'
import { randomBytes } from 'node:crypto'
import { z } from 'zod'
import type { Pairing } from '@guardband/link/pairing'
import { JOURNAL_LIMIT, PIECE_LIMIT, SYNC_ROUTES, SpokenError, idSchema, nameSchema, type LiveState } from '@guardband/model'
import type { Seen } from '../link.ts'
import type { HeldStore, LetIn } from './held.ts'

export interface CompanionDesk {
  readonly name: string
  readonly held: HeldStore
  readonly pairing: Pairing
  readonly now: () => number
  /** A rig said what it is at; what people here said since is returned. */
  readonly heard: (device: LetIn, state: LiveState) => readonly { readonly ask: string; readonly answer: string; readonly who: string; readonly at: string }[]
  /** A piece of that journal came from that device. */
  readonly handed: (device: LetIn, journal: string) => void
  readonly seen: (journal: string) => readonly Seen[]
  /** What went wrong inside, for the terminal. */
  readonly say: (line: string) => void
}

/** For link/tls-server. */
export function companionServer(desk: CompanionDesk): (options: ServerOptions) => Server {
  return (options) =>
    createServer(options, (request, response) => {
      void (async () => {
        const reply = await answer(desk, request).catch((cause: unknown) => refusalOf(cause, desk.say))
        const body = JSON.stringify(reply.body)
        response.writeHead(reply.status, { 'content-type': 'application/json', 'content-length': Buffer.byteLength(body), 'cache-control': 'no-store', 'x-content-type-options': 'nosniff', ...(reply.status === 413 ? { connection: 'close' } : {}) })
        response.end(body)
      })()
    })
}

interface Reply {
  readonly status: number
  readonly body: unknown
}

class Refusal extends Error {
  readonly reply: Reply

  constructor(status: number, code: string, sentence: string) {
    super(sentence)
    this.reply = { status, body: { code, sentence } }
  }
}

const JSON_LIMIT = 1024 * 1024
const PAIR_LIMIT = 4096

async function answer(desk: CompanionDesk, request: IncomingMessage): Promise<Reply> {
  const { pathname, searchParams } = addressOf(request.url ?? '/')
  const at = `${request.method ?? ''} ${pathname}`
  if (at === 'POST /pair') return pair(desk, request)
  const token = /^Bearer (\S+)$/.exec(request.headers.authorization ?? '')?.[1]
  const device = token === undefined ? undefined : desk.held.byToken(token)
  if (device === undefined) throw new Refusal(401, 'not-let-in', 'This device has not been let in.')
  if (at === 'POST /sync/hello') return ok({ id: desk.held.id, name: desk.name, now: desk.now() })
  if (at === 'POST /sync/state') {
    const { state } = parsed(SYNC_ROUTES.state.input, await readJson(request))
    const answers = desk.heard(device, state)
    return ok({ now: desk.now(), answers: answers.map((each) => ({ ...each, via: 'companion' })), stop: false })
  }
  // Pictures and outputs belong to a workspace; a companion has none and says so without failing the rig.
  if (at === 'POST /sync/kept') {
    await readBody(request, PIECE_LIMIT)
    return ok({ kept: false })
  }
  const [, journal = '', what = ''] = /^\/sync\/journals\/([^/]+)\/(held|piece|seen)$/.exec(pathname) ?? []
  if (idSchema.safeParse(journal).success) {
    if (request.method === 'GET' && what === 'held') return ok(desk.held.held(journal, device.id))
    if (request.method === 'GET' && what === 'seen') {
      // Refuses a journal that another device handed over.
      desk.held.held(journal, device.id)
      return ok({ saw: desk.seen(journal) })
    }
    if (request.method === 'POST' && what === 'piece') {
      const { offset } = parsed(SYNC_ROUTES.piece.input, Object.fromEntries(searchParams))
      const bytes = await readBody(request, PIECE_LIMIT)
      if (offset + bytes.length > JOURNAL_LIMIT) throw new Refusal(413, 'journal-too-long', `A journal must be at most ${JOURNAL_LIMIT / 1024 / 1024} MB; got more.`)
      const held = desk.held.piece(journal, device.id, { offset, bytes })
      desk.handed(device, journal)
      return ok({ held, runs: 0, remarks: [] })
    }
  }
  throw new Refusal(404, 'not-found', 'There is nothing at this address.')
}

function addressOf(target: string): URL {
  try {
    return new URL(target, 'https://companion')
  } catch {
    throw new Refusal(400, 'address', 'This is no address.')
  }
}

async function pair({ pairing, held }: CompanionDesk, request: IncomingMessage): Promise<Reply> {
  const { code, name } = parsed(pairSchema, await readJson(request, PAIR_LIMIT))
  const tried = pairing.try(code, request.socket.remoteAddress ?? '')
  if (tried.result === 'too often') throw new Refusal(429, 'pairing', `Too many wrong codes. Try again in ${Math.ceil(tried.waitSeconds / 60)} min.`)
  if (tried.result === 'wrong') throw new Refusal(403, 'pairing', 'This is not the code, or its five minutes are over. Make a new one at the companion.')
  const token = randomBytes(32).toString('base64url')
  const device = held.add(name, token)
  pairing.settle(device.name)
  return ok({ token })
}

const pairSchema = z.object({ code: z.string().max(40), name: nameSchema.max(60) })

function ok(body: unknown): Reply {
  return { status: 200, body }
}

function parsed<Out>(schema: z.ZodType<Out>, input: unknown): Out {
  const result = schema.safeParse(input)
  if (result.success) return result.data
  const [issue] = result.error.issues
  throw new Refusal(400, 'input', `${issue.path.join('.') || 'The request'}: ${issue.message}.`)
}

async function readJson(request: IncomingMessage, limit = JSON_LIMIT): Promise<unknown> {
  const bytes = await readBody(request, limit)
  try {
    return JSON.parse(bytes.toString('utf8'))
  } catch {
    throw new Refusal(400, 'body-json', 'The body must be JSON.')
  }
}

async function readBody(request: IncomingMessage, limit: number): Promise<Buffer> {
  const tooLarge = (): Refusal => new Refusal(413, 'too-large', `The body must be at most ${Math.floor(limit / 1024)} KB; got more.`)
  if (Number(request.headers['content-length'] ?? '0') > limit) throw tooLarge()
  const pieces: Buffer[] = []
  let size = 0
  for await (const piece of request as AsyncIterable<Buffer>) {
    size += piece.length
    if (size > limit) throw tooLarge()
    pieces.push(piece)
  }
  return Buffer.concat(pieces)
}

const STATUS_OF: Readonly<Record<string, number | undefined>> = { 'journal-fork': 409, 'journal-gap': 409, 'journal-foreign': 403, 'journal-piece': 422, 'another-device': 409 }

function refusalOf(cause: unknown, say: (line: string) => void): Reply {
  if (cause instanceof Refusal) return cause.reply
  if (cause instanceof SpokenError) return { status: STATUS_OF[cause.code] ?? 400, body: { code: cause.code, sentence: cause.sentence } }
  say(`companion: ${cause instanceof Error ? cause.message : String(cause)}`)
  return { status: 500, body: { code: 'internal', sentence: 'Something went wrong inside the companion; its terminal says more.' } }
}
