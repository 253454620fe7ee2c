// Reads a request's body up to a limit: refused from its declared length before a byte is read, or at the byte that goes past it.
import type { Context } from 'hono'
import { Refusal, TOO_LARGE } from './refusal.ts'

export const JSON_LIMIT = 1024 * 1024

export async function readBody(c: Context, limit: number): Promise<Uint8Array> {
  const declared = Number(c.req.header('content-length') ?? '0')
  if (declared > limit) throw tooLarge(limit)
  const stream = c.req.raw.body
  if (stream === null) return new Uint8Array()
  const pieces: Uint8Array[] = []
  let size = 0
  const reader = stream.getReader()
  for (;;) {
    const { done, value } = await reader.read()
    if (done) break
    size += value.byteLength
    if (size > limit) {
      pieces.length = 0
      throw tooLarge(limit)
    }
    pieces.push(value)
  }
  return Buffer.concat(pieces, size)
}

export async function readJson(c: Context, limit = JSON_LIMIT): Promise<unknown> {
  const bytes = await readBody(c, limit)
  if (bytes.byteLength === 0) return {}
  const type = (c.req.header('content-type') ?? '').split(';')[0].trim().toLowerCase()
  if (type !== 'application/json') throw new Refusal(415, { code: 'body-type', message: `the body must be application/json; got ${type === '' ? 'no type' : type.slice(0, 100)}.` })
  const text = decodeUtf8(bytes)
  try {
    return JSON.parse(text)
  } catch (error) {
    throw new Refusal(400, { code: 'body-json', message: `the body must be JSON: ${error instanceof Error ? error.message.slice(0, 200) : 'it could not be read'}.` })
  }
}

function decodeUtf8(bytes: Uint8Array): string {
  try {
    return new TextDecoder('utf-8', { fatal: true }).decode(bytes)
  } catch {
    throw new Refusal(400, { code: 'body-encoding', message: 'the body must be UTF-8; got bytes that are not.' })
  }
}

function tooLarge(limit: number): Refusal {
  return new Refusal(TOO_LARGE, { code: 'too-large', message: `the body must be at most ${limit / (1024 * 1024)} MB; got more.`, mend: 'Split the file and take in the pieces one after the other.' })
}
