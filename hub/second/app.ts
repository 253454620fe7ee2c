// The second listener's app: Host, pairing, token, then the few routes that a phone or a rig has. What else the hub does is not there.
import { Hono, type Context } from 'hono'
import { PHONE_LIVE_ROUTES, type Device } from '@guardband/model'
import { join } from 'node:path'
import { compress } from 'hono/compress'
import type { EventStreams } from '../event-stream.ts'
import { replyHeaders } from '../guard.ts'
import type { LiveRigs } from '../live-rigs.ts'
import { refuse, refuseError, Refusal } from '../refusal.ts'
import { deviceParam } from '../routes/live.ts'
import { createRouteServer } from '../serve-route.ts'
import { sendFile } from '../static-files.ts'
import { serveSyncRoutes } from './sync-routes.ts'
import { serveBenchRoutes } from './bench-routes.ts'
import { checkPlace, fromOwnPage, visitorOf, type DeviceKind } from './door.ts'
import { servePairing, type PairNeeds } from './pair-route.ts'

export interface SecondAppNeeds extends PairNeeds {
  /** What Host may say. */
  readonly hosts: () => readonly string[]
  readonly streams: EventStreams
  readonly live: LiveRigs
  readonly webFolder: string
  readonly say: (line: string) => void
}

export function createSecondApp(needs: SecondAppNeeds): Hono {
  const { current, port } = needs
  const app = new Hono()
  app.onError((error, c) => refuseError(c, error, needs.say))
  app.notFound((c) => refuse(c, 404, NOTHING_HERE))
  app.use(async (c, next) => {
    await next()
    // Without a referrer, browsers send a form's Origin as null.
    if (c.req.path === '/' || c.req.path === '/pair') c.res.headers.set('referrer-policy', 'same-origin')
  })
  app.use(replyHeaders)
  app.use(checkPlace(needs.hosts))
  servePairing(app, needs)

  app.use(async (c, next) => {
    const visitor = visitorOf(c, current, port())
    if (visitor === undefined) return refuse(c, 401, NOT_LET_IN)
    if (visitor.kind === 'phone' && c.req.method !== 'GET' && c.req.method !== 'HEAD' && !fromOwnPage(c)) {
      return refuse(c, 403, { code: 'no-origin', sentence: 'A request that changes something must come from the bench view itself.' })
    }
    // A phone is let in to the bench view, a rig to hand in its journals; neither sees what the other has.
    if (!c.req.path.startsWith(`/${AREAS[visitor.kind]}`)) return c.notFound()
    await current.use((lab) => lab.devices.saw(visitor.device.id))
    return next()
  })
  const deviceOf = (c: Context): Device => {
    const visitor = visitorOf(c, current, port())
    if (visitor === undefined) throw new Refusal(401, { code: NOT_LET_IN.code, message: NOT_LET_IN.sentence })
    return visitor.device
  }
  const server = createRouteServer(app, current)
  serveBenchRoutes(server, { deviceOf, now: needs.sources.now })
  serveSyncRoutes(server, { deviceOf, live: needs.live, now: needs.sources.now })
  server.json(PHONE_LIVE_ROUTES.liveRigs, needs.live.list)
  server.json(PHONE_LIVE_ROUTES.answerRig, ({ input, c }) => {
    needs.live.answer(deviceParam(c), input, { who: deviceOf(c).name, via: 'phone' })
    return needs.live.list()
  })
  // A HEAD gets no body, so nobody would ever end its stream.
  app.get('/bench/events', (c) => (c.req.raw.method === 'HEAD' ? c.body(null) : needs.streams.open(c, deviceOf(c).id)))
  app.get('/bench', compress(), async (c) => (await sendFile(c, join(needs.webFolder, 'phone'), 'index.html')) ?? refuse(c, 503, PAGE_NOT_BUILT))
  app.get('/bench/*', compress(), async (c) => (await sendFile(c, join(needs.webFolder, 'phone'), c.req.path.slice('/bench/'.length))) ?? c.notFound())
  return app
}

const AREAS: Readonly<Record<DeviceKind, string>> = { phone: 'bench', rig: 'sync/' }

const NOT_LET_IN = { code: 'not-let-in', sentence: 'This device has not been let in.' }
const NOTHING_HERE = { code: 'not-found', sentence: 'There is nothing at this address.' }
const PAGE_NOT_BUILT = { code: 'page-not-built', sentence: 'The bench view has not been built. Stop the hub and start it with "npm start", which builds it.' }
