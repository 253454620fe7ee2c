// What every request must pass before anything is done for it: the right Host, no foreign Origin, a session; and the headers every reply carries.
import type { Context, MiddlewareHandler } from 'hono'
import { getCookie } from 'hono/cookie'
import type { Access } from './access.ts'
import { refuse } from './refusal.ts'

export const PAGE_POLICY = [
  "default-src 'none'", "script-src 'self'", "style-src 'self'", "img-src 'self' data: blob:", "font-src 'self'", "connect-src 'self'",
  "manifest-src 'self'", "form-action 'self'", "base-uri 'none'", "frame-ancestors 'none'",
].join('; ')

/** A report is a file that anybody may have changed on disk since: it may look as it likes and do nothing. */
export const REPORT_POLICY = [
  'sandbox', "default-src 'none'", "style-src 'unsafe-inline'", 'img-src data:', 'font-src data:', "form-action 'none'", "base-uri 'none'", "frame-ancestors 'none'",
].join('; ')

/** Cookies are shared by all ports of a host, so each hub's has its own name. */
export function cookieName(port: number): string {
  return `guardband-${port}`
}

export const replyHeaders: MiddlewareHandler = async (c, next) => {
  await next()
  const headers = c.res.headers
  if (!headers.has('content-security-policy')) headers.set('content-security-policy', PAGE_POLICY)
  if (!headers.has('cache-control')) headers.set('cache-control', 'no-store')
  headers.set('x-content-type-options', 'nosniff')
  headers.set('referrer-policy', 'no-referrer')
  headers.set('cross-origin-opener-policy', 'same-origin')
  headers.set('cross-origin-resource-policy', 'same-origin')
}

/** A name that an attacker's server resolves to 127.0.0.1 arrives as a foreign Host; a foreign page's request as a foreign Origin. */
export function checkOrigin(port: () => number): MiddlewareHandler {
  return async (c, next) => {
    const host = c.req.header('host') ?? ''
    if (!hostsOf(port()).includes(host)) {
      return refuse(c, 421, { code: 'foreign-host', sentence: `Host must be 127.0.0.1:${port()} or localhost:${port()}; got ${shown(host)}.` })
    }
    const origin = c.req.header('origin')
    if (origin !== undefined && origin !== `http://${host}`) {
      return refuse(c, 403, { code: 'foreign-origin', sentence: `Origin must be http://${host}; got ${shown(origin)}.` })
    }
    const site = c.req.header('sec-fetch-site')
    if (site !== undefined && site !== 'same-origin' && site !== 'none' && !isNavigation(c)) {
      return refuse(c, 403, { code: 'foreign-origin', sentence: 'Requests must come from the page itself; this one came from another site.' })
    }
    return next()
  }
}

/** Changes must come from the page itself. Browsers say so in one of two headers; a request with neither is not from our page. */
export const checkSender: MiddlewareHandler = async (c, next) => {
  const changes = c.req.method !== 'GET' && c.req.method !== 'HEAD'
  if (changes && c.req.header('origin') === undefined && c.req.header('sec-fetch-site') !== 'same-origin') {
    return refuse(c, 403, { code: 'no-origin', sentence: 'A request that changes something must carry Origin or Sec-Fetch-Site: same-origin; got neither.' })
  }
  return next()
}

export function checkSession(access: Access, port: () => number): MiddlewareHandler {
  return async (c, next) => (hasSession(c, access, port()) ? next() : refuse(c, 401, NO_SESSION))
}

export function hasSession(c: Context, access: Access, port: number): boolean {
  const secret = getCookie(c, cookieName(port))
  return secret !== undefined && access.admits(secret)
}

const NO_SESSION = { code: 'no-session', sentence: 'This browser has not been let in. Run "npx guardband start" in a terminal and open the address that it prints.' }

/** Only loopback names. `[::1]` arrives through a tunnel that listens there. Port 80 is left out by browsers. */
function hostsOf(port: number): readonly string[] {
  const names = ['127.0.0.1', 'localhost', '[::1]']
  return [...names.map((name) => `${name}:${port}`), ...(port === 80 ? names : [])]
}

/** A person who follows a link from elsewhere; the strict cookie stays at home then, and a page asks them to try again. */
function isNavigation(c: Context): boolean {
  return c.req.method === 'GET' && c.req.header('sec-fetch-mode') === 'navigate' && c.req.header('sec-fetch-dest') === 'document'
}

/** What a stranger sent, cut short. */
function shown(text: string): string {
  return text === '' ? 'none' : text.slice(0, 100)
}
