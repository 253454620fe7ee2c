// Routes of the page over rigs at work: what they are at, answers to what they ask, and a wish that one stops.
import { idSchema, ROUTES } from '@guardband/model'
import type { Context } from 'hono'
import type { LiveRigs } from '../live-rigs.ts'
import { Refusal } from '../refusal.ts'
import type { RouteServer } from '../serve-route.ts'

export function serveLiveRoutes(server: RouteServer, { live, who }: { readonly live: LiveRigs; readonly who: string }): void {
  server.json(ROUTES.liveRigs, live.list)
  server.json(ROUTES.answerRig, ({ input, c }) => {
    live.answer(deviceParam(c), input, { who, via: 'page' })
    return live.list()
  })
  server.json(ROUTES.stopRig, ({ c }) => {
    live.stop(deviceParam(c))
    return live.list()
  })
}

/** The device in the address. */
export function deviceParam(c: Context): string {
  const parsed = idSchema.safeParse(c.req.param('device'))
  if (parsed.success) return parsed.data
  throw new Refusal(400, { code: 'input', message: 'the device in the address must be a UUID in lower case.' })
}
