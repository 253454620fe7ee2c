// The built page: hashed files that browsers may keep for ever, and index.html for every route that the page restores by itself.
import { readFile, stat } from 'node:fs/promises'
import { extname, join } from 'node:path'
import type { Context } from 'hono'
import { Refusal, wantsPage } from './refusal.ts'

/** Answers a GET from the folder that the web build made. */
export function createStaticFiles(folder: string): (c: Context) => Promise<Response> {
  return async (c) => {
    const path = c.req.path.slice(1)
    const found = path === 'index.html' ? undefined : await sendFile(c, folder, path)
    if (found !== undefined) return found
    if (!wantsPage(c) && c.req.path !== '/') throw new Refusal(404, { code: 'not-found', message: 'there is nothing at this address.' })
    const page = await load(folder, 'index.html', c)
    if (page === undefined) throw new Refusal(503, { code: 'page-not-built', message: 'the page has not been built.', mend: 'Stop the hub and start it with "npm start", which builds it.' })
    c.header('cache-control', 'no-cache')
    return send(c, page)
  }
}

/** A file of the folder, undefined when there is none of this name. */
export async function sendFile(c: Context, folder: string, path: string): Promise<Response | undefined> {
  const file = isSafe(path) ? await load(folder, path, c) : undefined
  if (file === undefined) return undefined
  c.header('cache-control', path.startsWith('assets/') ? 'public, max-age=31536000, immutable' : 'no-cache')
  return send(c, file)
}

interface StaticFile {
  readonly bytes: Uint8Array<ArrayBuffer>
  readonly type: string
  readonly encoding: string | undefined
}

function send(c: Context, file: StaticFile): Response {
  c.header('content-type', file.type)
  c.header('vary', 'accept-encoding')
  if (file.encoding !== undefined) c.header('content-encoding', file.encoding)
  return c.body(file.bytes)
}

async function load(folder: string, path: string, c: Context): Promise<StaticFile | undefined> {
  const type = TYPES[extname(path)]
  if (type === undefined) return undefined
  const accepted = (c.req.header('accept-encoding') ?? '').split(',').map((part) => part.split(';')[0].trim())
  for (const { encoding, ending } of [{ encoding: 'br', ending: '.br' }, { encoding: 'gzip', ending: '.gz' }]) {
    const bytes = accepted.includes(encoding) ? await readIfFile(join(folder, path + ending)) : undefined
    if (bytes !== undefined) return { bytes, type, encoding }
  }
  const bytes = await readIfFile(join(folder, path))
  return bytes === undefined ? undefined : { bytes, type, encoding: undefined }
}

async function readIfFile(path: string): Promise<Uint8Array<ArrayBuffer> | undefined> {
  try {
    return (await stat(path)).isFile() ? await readFile(path) : undefined
  } catch {
    return undefined
  }
}

/** Only plain names, so that no path leads out of the folder. */
function isSafe(path: string): boolean {
  return /^(?:[A-Za-z0-9_-][A-Za-z0-9._-]*\/)*[A-Za-z0-9_-][A-Za-z0-9._-]*$/.test(path)
}

const TYPES: Readonly<Record<string, string>> = {
  '.html': 'text/html; charset=utf-8', '.js': 'text/javascript; charset=utf-8', '.css': 'text/css; charset=utf-8', '.json': 'application/json',
  '.svg': 'image/svg+xml', '.png': 'image/png', '.ico': 'image/x-icon', '.woff2': 'font/woff2', '.wasm': 'application/wasm', '.webmanifest': 'application/manifest+json',
  '.txt': 'text/plain; charset=utf-8',
}
