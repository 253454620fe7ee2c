// Routes over parts, samples and rigs whole.
import { ROUTES } from '@guardband/model'
import { idParam, type RouteServer } from '../serve-route.ts'

export function servePartRoutes(server: RouteServer, { who }: { readonly who: string }): void {
  server.json(ROUTES.part, ({ lab, c }) => lab.samples.part(idParam(c)))
  server.json(ROUTES.sample, ({ lab, c }) => lab.samples.sample(idParam(c)))
  server.json(ROUTES.rig, ({ lab, c }) => lab.samples.rig(idParam(c)))
  server.json(ROUTES.who, () => ({ who }))
}
