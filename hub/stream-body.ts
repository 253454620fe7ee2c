// Bodies that are not held in memory: an upload as a stream with its limit, and a file that is sent as a download in which nothing may run.
import { Readable } from 'node:stream'
import type { Context } from 'hono'
import { Refusal, TOO_LARGE } from './refusal.ts'

/** The pieces of a request's body: refused from its declared length before a byte is read, or at the byte that goes past the limit. */
export function readPieces(c: Context, limit: number, mend: string): AsyncIterable<Uint8Array> {
  const declared = Number(c.req.header('content-length') ?? '0')
  if (declared > limit) throw tooLarge(limit, mend)
  return pieces(c.req.raw.body, limit, mend)
}

export interface Download {
  /** As it is offered to be saved. */
  readonly name: string
  readonly type: string
  /** Unknown where it is made while it is sent. */
  readonly bytes?: number
  readonly open: () => Readable
}

/** Files come from anywhere: whatever is in them, a browser may only save it, and runs nothing of it. */
export function sendDownload(c: Context, { name, type, bytes, open }: Download, disposition: 'attachment' | 'inline' = 'attachment'): Response {
  c.header('content-security-policy', FILE_POLICY)
  c.header('content-type', type)
  c.header('content-disposition', `${disposition}; filename*=UTF-8''${encodeName(name)}`)
  if (bytes !== undefined) c.header('content-length', String(bytes))
  if (c.req.raw.method === 'HEAD') return c.body(null)
  // The two declarations of a web stream, Node's and the browser's, are one at run time.
  return c.body(Readable.toWeb(open()) as unknown as ReadableStream)
}

const FILE_POLICY = "sandbox; default-src 'none'; form-action 'none'; base-uri 'none'; frame-ancestors 'none'"

/** RFC 8187: letters and digits stand for themselves, everything else as bytes. */
function encodeName(name: string): string {
  return encodeURIComponent(name.toWellFormed()).replace(/['()*]/g, (sign) => `%${sign.charCodeAt(0).toString(16).toUpperCase()}`)
}

async function* pieces(body: ReadableStream<Uint8Array> | null, limit: number, mend: string): AsyncGenerator<Uint8Array> {
  if (body === null) return
  const reader = body.getReader()
  let size = 0
  for (;;) {
    const { done, value } = await reader.read()
    if (done) return
    size += value.byteLength
    if (size > limit) throw tooLarge(limit, mend)
    yield value
  }
}

function tooLarge(limit: number, mend: string): Refusal {
  return new Refusal(TOO_LARGE, { code: 'too-large', message: `the file must be at most ${limit / (1024 * 1024)} MB; got more.`, mend })
}
