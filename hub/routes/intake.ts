// Routes that take in tables of runs. The file stays with the workspace's desk for a while; reading and writing happen in its thread.
import { INTAKE_LIMIT, ROUTES } from '@guardband/model'
import { readBody } from '../body.ts'
import { idParam, type RouteServer } from '../serve-route.ts'

export function serveIntakeRoutes(server: RouteServer, { who }: { readonly who: string }): void {
  server.file(ROUTES.intake, async ({ lab, input, c }) => lab.intakeRuns({ text: await readBody(c, INTAKE_LIMIT), file: input.file, who, only: input.only }))
  server.file(ROUTES.intakeSend, async ({ lab, input, c }) => {
    const bytes = await readBody(c, INTAKE_LIMIT)
    return lab.intakes.send({ id: idParam(c), bytes, file: input.file, who, homeZone: input.zone })
  })
  server.json(ROUTES.intakeLook, ({ lab, input, c }) => lab.intakes.look(idParam(c), input))
  server.json(ROUTES.intakeTake, ({ lab, input, c }) => lab.intakes.take(idParam(c), { ...input, who }))
  server.json(ROUTES.intakeProgress, ({ lab, c }) => lab.intakes.progress(idParam(c)))
  server.json(ROUTES.intakeCancel, ({ lab, c }) => ({ cancelled: lab.intakes.cancel(idParam(c)) }))
}
