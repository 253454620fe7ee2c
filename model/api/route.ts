// The shape of one route of the contract between hub and page.
import type { z } from 'zod'

export interface Route<In, Out> {
  readonly method: 'GET' | 'POST'
  /** `:name` stands for a path parameter. */
  readonly path: string
  /** The JSON body of a POST, or the query of a GET. */
  readonly input: z.ZodType<In>
  readonly output: z.ZodType<Out>
}

export function route<In, Out>(method: 'GET' | 'POST', path: string, input: z.ZodType<In>, output: z.ZodType<Out>): Route<In, Out> {
  return { method, path, input, output }
}
