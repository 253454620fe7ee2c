// The one door to the hub: a typed call per route of the contract, whose replies are checked before anyone uses them.
import { errorReplySchema, ROUTES, type Route, type RouteName } from '@guardband/model/api'

export type RouteIn<Name extends RouteName> = (typeof ROUTES)[Name] extends Route<infer In, infer _Out> ? In : never
export type RouteOut<Name extends RouteName> = (typeof ROUTES)[Name] extends Route<infer _In, infer Out> ? Out : never

export interface CallOptions<Name extends RouteName> {
  /** What stands for `:name` in the path. */
  readonly params?: Readonly<Record<string, string>>
  readonly input?: Partial<RouteIn<Name>>
  /** A file or pasted text, sent as it is; then the input travels in the query. */
  readonly text?: Blob | string
  readonly signal?: AbortSignal
}

/** What went wrong, in a sentence for people, with a code that stays the same. */
export class HubError extends Error {
  readonly code: string

  constructor(code: string, sentence: string) {
    super(sentence)
    this.name = 'HubError'
    this.code = code
  }
}

/** Calls a route. Throws a HubError with a sentence that says what happened and what to do. */
export async function call<Name extends RouteName>(name: Name, options: CallOptions<Name> = {}): Promise<RouteOut<Name>> {
  const route = ROUTES[name]
  const response = await send(route.method, addressOf(route, options), options)
  const reply = await readJson(response)
  if (!response.ok) throw spoken(response.status, reply)
  const parsed = route.output.safeParse(reply)
  if (!parsed.success) {
    const at = parsed.error.issues[0]?.path.join('.') ?? ''
    throw new HubError('reply-not-understood', `This page and the hub do not speak the same version (${name}${at === '' ? '' : `, ${at}`}). Stop the hub, start it again, and reload this page.`)
  }
  // The schema just checked is the one that the type was read from.
  return parsed.data as RouteOut<Name>
}

function addressOf<Name extends RouteName>(route: { readonly method: string; readonly path: string }, { params = {}, input, text }: CallOptions<Name>): string {
  const path = route.path.replace(/:(\w+)/g, (_whole, key: string) => encodeURIComponent(params[key] ?? ''))
  if (input === undefined || (route.method === 'POST' && text === undefined)) return path
  const query = new URLSearchParams()
  for (const [key, value] of Object.entries<unknown>(input)) if (typeof value === 'string' || typeof value === 'number') query.set(key, String(value))
  return query.size === 0 ? path : `${path}?${query.toString()}`
}

async function send<Name extends RouteName>(method: string, address: string, { input, text, signal }: CallOptions<Name>): Promise<Response> {
  const posted: RequestInit =
    method === 'GET'
      ? {}
      : text === undefined
        ? { body: JSON.stringify(input ?? {}), headers: { 'content-type': 'application/json' } }
        : { body: text, headers: { 'content-type': 'text/csv' } }
  try {
    return await fetch(address, { method, credentials: 'same-origin', ...(signal === undefined ? {} : { signal }), ...posted })
  } catch (error) {
    if (signal?.aborted === true) throw error
    throw new HubError('hub-silent', 'The hub does not answer. Look at the terminal where it was started; if it has ended, start it again, then try once more.')
  }
}

async function readJson(response: Response): Promise<unknown> {
  try {
    return await response.json()
  } catch {
    return undefined
  }
}

function spoken(status: number, reply: unknown): HubError {
  const told = errorReplySchema.safeParse(reply)
  if (told.success) return new HubError(told.data.code, told.data.sentence)
  if (status === 401 || status === 403) return new HubError('not-let-in', 'This browser has not been let in, or no longer is. Open the address that the hub prints in its terminal when it starts.')
  return new HubError(`status-${status}`, `The hub could not do this and gave no reason (status ${status}). Its terminal may say more.`)
}
