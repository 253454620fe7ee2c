// Routes over what became of records, doses, search and the content digest.
import { ROUTES } from '@guardband/model'
import { idParam, seqParam, type RouteServer } from '../serve-route.ts'

export function serveHistoryRoutes(server: RouteServer): void {
  server.json(ROUTES.history, ({ lab, input, c }) => {
    const { entries, ...rest } = lab.history.of(idParam(c), input)
    return { ...rest, entries: [...entries] }
  })
  server.json(ROUTES.changeItems, ({ lab, input, c }) => {
    const { items, ...rest } = lab.history.change(seqParam(c), input)
    return { ...rest, items: [...items] }
  })
  server.json(ROUTES.doses, ({ lab, c }) => lab.doses(idParam(c)))
  server.json(ROUTES.find, ({ lab, input: { q, kind } }) => lab.find({ q, ...(kind === undefined ? {} : { kind }) }))
  server.json(ROUTES.digest, ({ lab }) => lab.digest())
}
