// The hub's app: guards first, then the door, the contract's routes, the event stream, reports, and the page.
import { Hono, type MiddlewareHandler } from 'hono'
import { compress } from 'hono/compress'
import { setCookie } from 'hono/cookie'
import type { Access } from './access.ts'
import { answerAsk, ASK_PATH } from './beacon.ts'
import type { CurrentLab } from './current-lab.ts'
import type { EventStreams } from './event-stream.ts'
import { checkOrigin, checkSender, checkSession, cookieName, hasSession, replyHeaders } from './guard.ts'
import { refuse, refuseError } from './refusal.ts'
import { sendReport } from './report-files.ts'
import { serveRoutes, type RouteNeeds } from './routes.ts'
import { createRouteServer } from './serve-route.ts'
import { createStaticFiles } from './static-files.ts'

export interface AppNeeds extends RouteNeeds {
  readonly current: CurrentLab
  readonly access: Access
  readonly streams: EventStreams
  /** The port it listens on, once it does. */
  readonly port: () => number
  readonly newOpenUrl: () => string
  /** What the same user's other processes prove themselves with. */
  readonly beaconSecret: string
  readonly webFolder: string
  readonly say: (line: string) => void
  /** Sees every request. */
  readonly watch: MiddlewareHandler
}

export function createApp(needs: AppNeeds): Hono {
  const { current, access, port } = needs
  const app = new Hono()
  app.onError((error, c) => refuseError(c, error, needs.say))
  app.notFound((c) => refuse(c, 404, { code: 'not-found', sentence: `There is no ${c.req.method.slice(0, 20)} at this address.` }))
  app.use(needs.watch)
  app.use(replyHeaders)
  app.use(checkOrigin(port))

  app.post(ASK_PATH, (c) => {
    const request = { nonce: c.req.header('x-guardband-nonce') ?? '', proof: c.req.header('x-guardband-proof') ?? '' }
    const reply = answerAsk(needs.beaconSecret, request, needs.newOpenUrl)
    return reply === undefined ? refuse(c, 403, { code: 'no-proof', sentence: 'Only the user who started this hub can ask it for an address.' }) : c.json(reply)
  })
  app.get('/open', (c) => {
    // A HEAD, sent by programs that look at links before people do, must not use the token up.
    const secret = c.req.raw.method === 'GET' ? access.redeem(c.req.query('token') ?? '') : undefined
    if (secret !== undefined) setCookie(c, cookieName(port()), secret, { httpOnly: true, sameSite: 'Strict', path: '/' })
    else if (!hasSession(c, access, port())) return refuse(c, 401, TOKEN_SPENT)
    // A redirect would count as a part of the navigation that came here, and one that began outside, in a file or a mail, leaves the strict cookie at home.
    return c.html(ENTER)
  })

  app.use(checkSession(access, port))
  app.use(checkSender)
  serveRoutes(createRouteServer(app, current), needs)
  // A HEAD gets no body, so nobody would ever end its stream.
  app.get('/api/events', (c) => (c.req.raw.method === 'HEAD' ? c.body(null) : needs.streams.open(c)))
  app.all('/api/*', (c) => c.notFound())
  app.get('/reports/:file{.+\\.html}', (c) => current.use((lab) => sendReport(c, lab, c.req.param('file'))))
  // Files that the build has packed already pass through as they are.
  app.get('*', compress(), createStaticFiles(needs.webFolder))
  return app
}

const ENTER = `<!doctype html>
<html lang="en"><head><meta charset="utf-8"><meta name="color-scheme" content="light dark"><meta http-equiv="refresh" content="0; url=/"><title>Guardband</title></head>
<body><p><a href="/">Open Guardband</a></p></body></html>
`

const TOKEN_SPENT = { code: 'token-spent', sentence: 'This address has been used, or is older than ten minutes. Run "npx guardband start" in a terminal for a new one.' }
