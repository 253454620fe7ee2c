// Every refusal in one shape: a code and a sentence, as JSON for programs and as a small page for people.
import { SpokenError, type ErrorReply } from '@guardband/model'
import type { Context } from 'hono'
import type { ContentfulStatusCode } from 'hono/utils/http-status'

/** An error that carries its HTTP status, for the cases that the hub itself finds. */
export class Refusal extends SpokenError {
  readonly status: ContentfulStatusCode

  constructor(status: ContentfulStatusCode, parts: { readonly code: string; readonly message: string; readonly place?: string; readonly mend?: string }) {
    super(parts)
    this.name = 'Refusal'
    this.status = status
  }
}

export function refuse(c: Context, status: ContentfulStatusCode, reply: ErrorReply): Response {
  if (wantsPage(c)) return c.html(pageOf(reply.sentence), status)
  return c.json(reply satisfies ErrorReply, status)
}

/** The reply for anything thrown. What nobody foresaw is told without its insides; those go to `say`. */
export function refuseError(c: Context, error: unknown, say: (line: string) => void): Response {
  if (error instanceof Refusal && error.status === TOO_LARGE) return refuseAndLinger(c, { code: error.code, sentence: error.sentence })
  if (error instanceof Refusal) return refuse(c, error.status, { code: error.code, sentence: error.sentence })
  if (error instanceof SpokenError) return refuse(c, statusOf(error.code), { code: error.code, sentence: error.sentence })
  say(`hub: ${c.req.method} ${c.req.path} failed: ${error instanceof Error ? (error.stack ?? error.message) : String(error)}`)
  return refuse(c, 500, { code: 'internal', sentence: 'Something went wrong inside the hub; nothing was changed by this request unless it is in the change log. The terminal that runs it says more.' })
}

export const TOO_LARGE = 413

/**
 * Refuses a body that is still being sent. Closing at once would reset the connection, and the sender might never read why. So the whole reply
 * goes out, nothing more is read, which halts the sender, and the connection is closed a moment later.
 */
function refuseAndLinger(c: Context, reply: ErrorReply): Response {
  const bytes = new TextEncoder().encode(JSON.stringify(reply))
  let timer: NodeJS.Timeout | undefined
  const body = new ReadableStream<Uint8Array>({
    start(controller) {
      controller.enqueue(bytes)
      timer = setTimeout(() => controller.close(), LINGER_MS)
    },
    cancel: () => clearTimeout(timer),
  })
  return c.body(body, TOO_LARGE, { 'content-type': 'application/json', 'content-length': String(bytes.byteLength), connection: 'close' })
}

/** Long enough for a busy sender to look at what came back. */
const LINGER_MS = 1000

export function wantsPage(c: Context): boolean {
  return (c.req.method === 'GET' || c.req.method === 'HEAD') && !c.req.path.startsWith('/api/') && (c.req.header('accept') ?? '').includes('text/html')
}

/** Codes are the thrower's: "no-..." is a thing that isn't there, and these are in conflict with what happened meanwhile. */
function statusOf(code: string): ContentfulStatusCode {
  if (code.startsWith('no-')) return 404
  return CONFLICTS.has(code) ? 409 : (OTHERS[code] ?? 400)
}

const OTHERS: Readonly<Record<string, ContentfulStatusCode | undefined>> = { 'journal-foreign': 403, 'journal-piece': 422, 'journal-other': 422, 'journal-too-long': 413, 'kept-not-named': 422, 'file-not-sent': 422 }

const CONFLICTS: ReadonlySet<string> = new Set(['changed-meanwhile', 'undone-already', 'touched-later', 'still-referred', 'lab-exists', 'folder-not-empty', 'hub-running', 'request-reused', 'request-taken-back', 'journal-fork', 'journal-gap', 'journal-gaps', 'journal-taken-back', 'kept-not-yet'])

function pageOf(sentence: string): string {
  return `<!doctype html>
<html lang="en"><head><meta charset="utf-8"><meta name="viewport" content="width=device-width, initial-scale=1"><meta name="color-scheme" content="light dark"><title>Guardband</title></head>
<body><h1>Guardband</h1><p>${escapeHtml(sentence)}</p><p><a href="/">Try again</a></p></body></html>
`
}

function escapeHtml(text: string): string {
  return text.replaceAll('&', '&amp;').replaceAll('<', '&lt;').replaceAll('>', '&gt;').replaceAll('"', '&quot;')
}
