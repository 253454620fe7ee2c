// Routes over runs and starts.
import { idSchema, ROUTES } from '@guardband/model'
import { Refusal } from '../refusal.ts'
import { idParam, type RouteServer } from '../serve-route.ts'

export function serveRunRoutes(server: RouteServer, { who }: { readonly who: string }): void {
  server.json(ROUTES.runs, ({ lab, input: { from, count, ids, ...wanted } }) => {
    const given = Object.fromEntries(Object.entries(wanted).filter(([, value]) => value !== undefined))
    const found = lab.runs({ from, count, ...given, ...(ids === undefined ? {} : { ids: idList(ids) }) })
    return { rows: [...found.rows], total: found.total }
  })
  server.json(ROUTES.run, ({ lab, c }) => lab.run(idParam(c)))
  server.json(ROUTES.start, ({ lab, c }) => lab.start(idParam(c)))
  server.json(ROUTES.setAside, ({ lab, input, c }) => ({ change: lab.setAside(idParam(c), { who, reason: input.reason }) }))
  server.json(ROUTES.bringBack, ({ lab, input, c }) => ({ change: lab.bringBack(idParam(c), { who, reason: input.reason }) }))
  server.json(ROUTES.keepRuns, ({ lab, input }) => lab.keepRuns({ ...input, who }))
  server.json(ROUTES.changeOvers, ({ lab }) => ({ rows: [...lab.changeOvers()] }))
  server.json(ROUTES.toDo, ({ lab }) => lab.toDo())
}

function idList(text: string): readonly string[] {
  const ids = text.split(',')
  if (ids.every((id) => idSchema.safeParse(id).success)) return ids
  throw new Refusal(400, { code: 'input', message: 'ids must be UUIDs in lower case with commas between them.' })
}
