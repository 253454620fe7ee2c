// Every route of the contract over the lab, in the contract's order.
import type { Lab } from '@guardband/lab'
import { ROUTES, type Side } from '@guardband/model'
import type { LiveRigs } from './live-rigs.ts'
import { serveDeviceRoutes } from './routes/devices.ts'
import { serveEvidenceRoutes } from './routes/evidence.ts'
import { serveIntakeRoutes } from './routes/intake.ts'
import { serveHistoryRoutes } from './routes/history.ts'
import { serveLiveRoutes } from './routes/live.ts'
import { servePartRoutes } from './routes/parts.ts'
import { serveMovingRoutes, type SwitchToExported } from './routes/moving.ts'
import { serveRecordRoutes } from './routes/records.ts'
import { serveRunRoutes } from './routes/runs.ts'
import { serveSheetRoutes } from './routes/sheets.ts'
import { serveTuneRoutes } from './routes/tunes.ts'
import type { SecondListener } from './second/second-listener.ts'
import { idParam, seqParam, type RouteServer } from './serve-route.ts'

export interface RouteNeeds {
  readonly live: LiveRigs
  readonly second: SecondListener
  /** The name under which changes from the page stand in the change log. */
  readonly who: string
  /** Makes a workspace of their own and serves it from then on. */
  readonly switchToNew: (input: { readonly name: string; readonly currency: string }) => Promise<Lab>
  /** Makes a workspace of a file that an export gave, and serves it from then on. */
  readonly switchToExported: SwitchToExported
}

export function serveRoutes(server: RouteServer, { who, second, live, switchToNew, switchToExported }: RouteNeeds): void {
  serveRecordRoutes(server, { who })
  serveDeviceRoutes(server, { second })
  serveLiveRoutes(server, { live, who })
  serveHistoryRoutes(server)
  servePartRoutes(server, { who })
  serveEvidenceRoutes(server, { who })
  serveMovingRoutes(server, { switchToExported })
  serveIntakeRoutes(server, { who })
  serveRunRoutes(server, { who })
  serveSheetRoutes(server, { who })
  serveTuneRoutes(server)
  server.json(ROUTES.lab, ({ lab }) => lab.info())
  server.json(ROUTES.newLab, async ({ input }) => (await switchToNew(input)).info())
  server.json(ROUTES.parts, ({ lab }) => ({ rows: [...lab.parts()] }))
  server.json(ROUTES.tunes, ({ lab }) => ({ rows: [...lab.tunes()] }))
  server.json(ROUTES.workloads, ({ lab }) => ({ workloads: [...lab.list('workload')], suites: [...lab.list('suite')] }))
  server.json(ROUTES.questions, ({ lab }) => {
    const rows = [...lab.questions()]
    // A page that lists them is about to ask for the answers that are missing.
    if (rows.some((row) => row.state !== 'ready')) void lab.warm()
    return { rows }
  })
  server.json(ROUTES.ask, ({ lab, input }) => ({ id: lab.ask(input, { who }) }))
  server.json(ROUTES.smallestGain, ({ lab, input }) => lab.smallestGain({ a: sideOf(input.aPart, input.aTune), b: sideOf(input.bPart, input.bTune) }))
  server.json(ROUTES.answer, async ({ lab, input, c }) => {
    const id = idParam(c)
    const reply = lab.answerNow(id, { begin: input.begin })
    if (reply.state !== 'computing' || input.wait === 0) return reply
    await answerEnds(lab, id, input.wait)
    return lab.answerNow(id)
  })
  server.json(ROUTES.cancel, ({ lab, c }) => ({ cancelled: lab.cancel(idParam(c)) }))
  server.json(ROUTES.rigs, ({ lab }) => ({ rows: [...lab.rigs()] }))
  server.json(ROUTES.campaigns, ({ lab }) => ({ campaigns: [...lab.list('campaign')], costs: [...lab.list('cost')] }))
  server.json(ROUTES.changes, ({ lab, input: { before, count } }) => ({ changes: [...lab.changes({ count, ...(before === undefined ? {} : { before }) })] }))
  server.json(ROUTES.undo, ({ lab, input, c }) => ({ change: lab.undo(seqParam(c), { who, why: input.why }) }))
  server.json(ROUTES.reports, ({ lab }) => ({ reports: [...lab.list('report')] }))
  server.json(ROUTES.publish, async ({ lab, input }) => ({ report: await lab.publish({ ...input, who }) }))
}

/** Resolves when the computation has ended, or when the time is over. */
function answerEnds(lab: Lab, id: string, milliseconds: number): Promise<void> {
  return new Promise((resolve) => {
    const end = (): void => {
      clearTimeout(timer)
      stop()
      resolve()
    }
    const timer = setTimeout(end, milliseconds)
    const stop = lab.onAnswer(({ questionId, state }) => {
      if (questionId === id && state !== 'computing') end()
    })
  })
}

function sideOf(partId: string | undefined, tuneId: string | undefined): Side {
  return { ...(partId === undefined ? {} : { partId }), ...(tuneId === undefined ? {} : { tuneId }) }
}
