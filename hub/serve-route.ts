// Puts one route of the contract on the app: input parsed by its schema, reply held against its schema, errors told as sentences.
import type { Lab } from '@guardband/lab'
import { idSchema, type Route } from '@guardband/model'
import type { Context, Hono } from 'hono'
import { z } from 'zod'
import { readJson } from './body.ts'
import type { CurrentLab } from './current-lab.ts'
import { inputSentence } from './input-sentence.ts'
import { Refusal } from './refusal.ts'

/** What a handler gets: the lab, which stays open while it works, the checked input, and the request itself for the rest. */
export interface Call<In> {
  readonly lab: Lab
  readonly input: In
  readonly c: Context
}

export type Handler<In, Out> = (call: Call<In>) => Out | Promise<Out>

export interface RouteServer {
  /** The input is the query of a GET or the JSON body of a POST, of so many bytes at most. */
  json<In, Out>(route: Route<In, Out>, handler: Handler<In, Out>, limit?: number): void
  /** The input is the query, though it is a POST: the body is a file, which the handler reads. */
  file<In, Out>(route: Route<In, Out>, handler: Handler<In, Out>): void
  /** A GET that replies with a file of its own kind instead of JSON. */
  download(path: string, handler: (call: Omit<Call<never>, 'input'>) => Response | Promise<Response>): void
}

export function createRouteServer(app: Hono, current: CurrentLab): RouteServer {
  const add = <In, Out>(route: Route<In, Out>, handler: Handler<In, Out>, inputOf: (c: Context) => unknown): void => {
    app.on(route.method, route.path, async (c) => {
      const input = parseInput(route.input, await inputOf(c), route.method === 'GET' ? 'the query' : 'the request')
      const output = await current.use((lab) => handler({ lab, input, c }))
      // Also in daily use: a figure that is not a number must stop here, not in a picture.
      const checked = route.output.safeParse(output)
      if (!checked.success) throw new TypeError(`the reply of ${route.method} ${route.path} breaks the contract: ${inputSentence(checked.error, output, 'reply')}`)
      return c.json(checked.data)
    })
  }
  return {
    json: (route, handler, limit) => add(route, handler, route.method === 'GET' ? (c) => c.req.query() : (c) => readJson(c, limit)),
    file: (route, handler) => add(route, handler, (c) => c.req.query()),
    download: (path, handler) => void app.get(path, (c) => current.use((lab) => handler({ lab, c }))),
  }
}

/** The id in the address. */
export function idParam(c: Context): string {
  const parsed = idSchema.safeParse(c.req.param('id'))
  if (parsed.success) return parsed.data
  throw new Refusal(400, { code: 'input', message: 'the id in the address must be a UUID in lower case.' })
}

/** The sequence number in the address. */
export function seqParam(c: Context): number {
  const parsed = z.coerce.number().pipe(z.int().positive()).safeParse(c.req.param('seq'))
  if (parsed.success) return parsed.data
  throw new Refusal(400, { code: 'input', message: 'the number of the change in the address must be a whole number above 0.' })
}

function parseInput<In>(schema: z.ZodType<In>, input: unknown, what: string): In {
  const parsed = schema.safeParse(input)
  if (parsed.success) return parsed.data
  throw new Refusal(400, { code: 'input', message: inputSentence(parsed.error, input, what) })
}
