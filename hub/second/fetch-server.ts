// The HTTPS server that the framework makes of a fetch function, for the door between machines to put in place.
import { createServer, type Server, type ServerOptions } from 'node:https'
import { createAdaptorServer } from '@hono/node-server'

export function fetchServer(fetch: (request: Request, env: unknown) => Response | Promise<Response>): (options: ServerOptions) => Server {
  // With createServer of node:https the adaptor makes its server.
  return (serverOptions) => createAdaptorServer({ fetch, overrideGlobalObjects: false, createServer, serverOptions }) as Server
}
