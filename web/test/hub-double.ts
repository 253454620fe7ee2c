// Stands in for the hub in tests of the page: serves the built page under the hub's content policy, and replies that fit the contract.
import { createServer, type IncomingMessage, type ServerResponse } from 'node:http'
import { readFile } from 'node:fs/promises'
import { extname, join, normalize } from 'node:path'
import { ROUTES, type RouteName } from '@guardband/model'
import { ANSWER, QUESTION_ID, STOPPED, STOPPED_ID } from './fixtures/answer.ts'
import { FULL, RUNS, runWhole, type Replies } from './fixtures/lab.ts'

export interface HubDouble {
  readonly address: string
  /** What each route answers; tests change it as they go. A function gets path parameters, query and body. */
  readonly replies: Map<RouteName, Reply>
  /** Every POST that came in. */
  readonly posted: { readonly route: RouteName; readonly path: string; readonly body: string }[]
  send(event: unknown): void
  close(): Promise<void>
}

export type Reply = object | ((request: { readonly params: Readonly<Record<string, string>>; readonly query: URLSearchParams; readonly body: string }) => unknown)

/** A reply with a status other than 200. */
export class Refused {
  readonly status: number
  readonly body: unknown

  constructor(status: number, body: unknown) {
    this.status = status
    this.body = body
  }
}

export const PAGE_POLICY =
  "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data: blob:; font-src 'self'; connect-src 'self'; manifest-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"

export async function startHubDouble(dist: string, replies: Replies = FULL): Promise<HubDouble> {
  const streams = new Set<ServerResponse>()
  const posted: { route: RouteName; path: string; body: string }[] = []
  const table = new Map<RouteName, Reply>([
    ['runs', ({ query }: { query: URLSearchParams }) => runsReply(query)],
    ['run', ({ params }: { params: Record<string, string> }) => runWhole(Math.max(0, RUNS.findIndex(({ id }) => id === params['id'])))],
    ['liveRigs', { rigs: [], now: 0 }],
    ['answer', ({ params }: { params: Record<string, string> }) => answerReply(params['id'] ?? '')],
    ...(Object.entries(replies) as [RouteName, Reply][]),
  ])
  const server = createServer((request, response) => {
    void serve(request, response).catch((error: unknown) => response.writeHead(500).end(String(error)))
  })

  async function serve(request: IncomingMessage, response: ServerResponse): Promise<void> {
    const url = new URL(request.url ?? '/', 'http://double')
    response.setHeader('content-security-policy', PAGE_POLICY)
    if (url.pathname === '/api/events') {
      response.writeHead(200, { 'content-type': 'text/event-stream' }).write(': listening\n\n')
      streams.add(response)
      response.on('close', () => streams.delete(response))
      return
    }
    if (!url.pathname.startsWith('/api/')) return sendFile(dist, url.pathname, response)
    const body = await readBody(request)
    for (const [name, route] of Object.entries(ROUTES) as [RouteName, (typeof ROUTES)[RouteName]][]) {
      const params = matchPath(route.path, url.pathname)
      if (params === undefined || route.method !== request.method) continue
      if (route.method === 'POST') posted.push({ route: name, path: url.pathname + url.search, body })
      const held = table.get(name)
      const reply: unknown = typeof held === 'function' ? await held({ params, query: url.searchParams, body }) : held
      if (reply instanceof Refused) {
        response.writeHead(reply.status, { 'content-type': 'application/json' }).end(JSON.stringify(reply.body))
        return
      }
      // A fixture that does not fit the contract would test nothing.
      const parsed = route.output.safeParse(reply)
      if (!parsed.success) throw new Error(`the double's reply to ${name} must fit the contract; got ${parsed.error.message}`)
      response.writeHead(200, { 'content-type': 'application/json' }).end(JSON.stringify(parsed.data))
      return
    }
    response.writeHead(404).end()
  }

  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve))
  const address = server.address()
  if (address === null || typeof address === 'string') throw new Error('the double must listen on a port; got none')
  return {
    address: `http://127.0.0.1:${address.port}`,
    replies: table,
    posted,
    send: (event) => {
      for (const stream of streams) stream.write(`data: ${JSON.stringify(event)}\n\n`)
    },
    close: () =>
      new Promise((resolve) => {
        server.close(() => resolve())
        server.closeAllConnections()
      }),
  }
}

/** As the hub finds runs: by their own ids or their start's, by words, by how they ended. */
function runsReply(query: URLSearchParams): unknown {
  const ids = query.get('ids')?.split(',')
  const words = (query.get('find') ?? '').toLowerCase().split(/\s+/)
  const outcome = query.get('outcome')
  const rows = RUNS.filter(
    (run) =>
      (ids === undefined || ids.includes(run.id) || ids.includes(run.startId)) &&
      words.every((word) => JSON.stringify(Object.values(run)).toLowerCase().includes(word)) &&
      (outcome === null || run.outcome === outcome || (outcome === 'failed' && !['scored', 'passed', 'stopped by a person'].includes(run.outcome)) || (outcome === 'set aside' && run.setAside !== null)),
  )
  const from = Number(query.get('from') ?? 0)
  return { rows: rows.slice(from, from + Number(query.get('count') ?? 100)), total: rows.length }
}

function answerReply(id: string): unknown {
  if (id === QUESTION_ID) return { state: 'ready', answer: ANSWER }
  if (id === STOPPED_ID) return { state: 'ready', answer: STOPPED }
  return new Refused(404, { code: 'question-unknown', sentence: 'This workspace has no such question. The Questions page lists them.' })
}

function matchPath(pattern: string, path: string): Record<string, string> | undefined {
  const wanted = pattern.split('/')
  const got = path.split('/')
  if (wanted.length !== got.length) return undefined
  const params: Record<string, string> = {}
  for (const [index, part] of wanted.entries()) {
    const here = got[index] ?? ''
    if (part.startsWith(':')) params[part.slice(1)] = decodeURIComponent(here)
    else if (part !== here) return undefined
  }
  return params
}

async function readBody(request: IncomingMessage): Promise<string> {
  const chunks: Buffer[] = []
  for await (const chunk of request) chunks.push(chunk as Buffer)
  return Buffer.concat(chunks).toString('utf8')
}

const TYPES: Readonly<Record<string, string>> = { '.html': 'text/html; charset=utf-8', '.js': 'text/javascript', '.css': 'text/css', '.svg': 'image/svg+xml', '.woff2': 'font/woff2' }

async function sendFile(dist: string, path: string, response: ServerResponse): Promise<void> {
  const type = TYPES[extname(path)]
  const file = type === undefined ? join(dist, 'index.html') : join(dist, normalize(path))
  try {
    const bytes = await readFile(file)
    response.writeHead(200, { 'content-type': TYPES[extname(file)] ?? 'text/plain' }).end(bytes)
  } catch {
    response.writeHead(404).end()
  }
}
