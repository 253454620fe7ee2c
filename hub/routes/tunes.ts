// Routes over tunes and what the lab knows of settings.
import { settingsKnown, startsToName, tuneDifference, tuneList, tuneWhole } from '@guardband/lab'
import { ROUTES } from '@guardband/model'
import { idParam, type RouteServer } from '../serve-route.ts'

export function serveTuneRoutes(server: RouteServer): void {
  server.json(ROUTES.tuneList, ({ lab }) => ({ rows: [...tuneList(lab)] }))
  server.json(ROUTES.tune, ({ lab, c }) => tuneWhole(lab, idParam(c)))
  server.json(ROUTES.tuneDifference, ({ lab, input: { a, b } }) => tuneDifference(lab, a, b))
  server.json(ROUTES.knownSettings, ({ lab, input: { except } }) => ({ settings: [...settingsKnown(lab, except)] }))
  server.json(ROUTES.startsToName, ({ lab }) => ({ rows: [...startsToName(lab)] }))
}
