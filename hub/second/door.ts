// Who may pass at the second listener: the right Host, no foreign Origin, a token of its own; and what each kind of device may do.
import { createHash } from 'node:crypto'
import type { Context, MiddlewareHandler } from 'hono'
import { getCookie, setCookie } from 'hono/cookie'
import type { Device } from '@guardband/model'
import type { CurrentLab } from '../current-lab.ts'
import { refuse } from '../refusal.ts'
import { randomSecret, type AccessSources } from '../access.ts'

/** A phone carries its token in a cookie that no script can read, a rig as a bearer. */
export type DeviceKind = 'phone' | 'rig'

export interface Visitor {
  readonly device: Device
  readonly kind: DeviceKind
}

/** 256 bits; the word before them is covered by the digest that is kept, so a phone's token can't be passed off as a rig's. */
export function newToken(kind: DeviceKind, sources: Pick<AccessSources, 'fillRandom'>): string {
  return `${kind}-${randomSecret(sources)}`
}

export function tokenHash(token: string): string {
  return createHash('sha256').update(token).digest('hex')
}

/** The device that this request comes from, if it was let in and still is. */
export function visitorOf(c: Context, current: CurrentLab, port: number): Visitor | undefined {
  const cookie = getCookie(c, deviceCookie(port))
  const bearer = /^Bearer ([\w-]{1,100})$/.exec(c.req.header('authorization') ?? '')?.[1]
  const [kind, token] = bearer === undefined ? (['phone', cookie] as const) : (['rig', bearer] as const)
  if (token === undefined || !token.startsWith(`${kind}-`)) return undefined
  const device = current.lab().devices.find(tokenHash(token))
  return device === undefined ? undefined : { device, kind }
}

/** The prefix keeps other ports and names of the host from setting it (RFC 6265bis, section 4.1.3). */
export function deviceCookie(port: number): string {
  return `__Host-guardband-${port}`
}

export function giveCookie(c: Context, port: number, token: string): void {
  setCookie(c, deviceCookie(port), token, { httpOnly: true, secure: true, sameSite: 'Strict', path: '/', maxAge: COOKIE_SECONDS })
}

/** Browsers keep no cookie for longer than 400 days. */
const COOKIE_SECONDS = 400 * 24 * 3600

/** A name that an attacker's server resolves to this address arrives as a foreign Host; a foreign page's request as a foreign Origin. */
export function checkPlace(hosts: () => readonly string[]): MiddlewareHandler {
  return async (c, next) => {
    const host = c.req.header('host') ?? ''
    if (!hosts().includes(host)) return refuse(c, 421, { code: 'foreign-host', sentence: 'Host must be the address that this listener was given.' })
    const origin = c.req.header('origin')
    if (origin !== undefined && origin !== `https://${host}`) return refuse(c, 403, { code: 'foreign-origin', sentence: 'Origin must be the listener itself.' })
    const site = c.req.header('sec-fetch-site')
    const arrives = c.req.method === 'GET' && c.req.header('sec-fetch-mode') === 'navigate' && c.req.header('sec-fetch-dest') === 'document'
    if (site !== undefined && site !== 'same-origin' && site !== 'none' && !arrives) return refuse(c, 403, { code: 'foreign-origin', sentence: 'Requests must come from the listener\'s own page.' })
    return next()
  }
}

/** What a cookie changes must come from the page itself; a bearer is sent by nobody but the program that holds it. */
export function fromOwnPage(c: Context): boolean {
  return c.req.header('origin') !== undefined || c.req.header('sec-fetch-site') === 'same-origin'
}
