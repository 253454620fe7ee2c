// What a rig hands over and hears: its journals in pieces, files of failed runs, and what it is at. Nothing here can make it run anything.
import { JOURNAL_LIMIT, KEPT_LIMIT, PIECE_LIMIT, SYNC_ROUTES } from '@guardband/model'
import type { Context } from 'hono'
import { readBody } from '../body.ts'
import type { LiveRigs } from '../live-rigs.ts'
import { Refusal } from '../refusal.ts'
import { idParam, type RouteServer } from '../serve-route.ts'
import type { DeviceOf } from './bench-routes.ts'

export interface SyncNeeds {
  readonly deviceOf: DeviceOf
  readonly live: LiveRigs
  readonly now: () => number
}

export function serveSyncRoutes(server: RouteServer, { deviceOf, live, now }: SyncNeeds): void {
  server.json(SYNC_ROUTES.hello, ({ lab }) => {
    const { lab: own } = lab.info()
    return { id: own.id, name: own.name, now: now() }
  })
  server.json(SYNC_ROUTES.held, ({ lab, c }) => lab.heldJournal(idParam(c), deviceOf(c).id))
  server.file(SYNC_ROUTES.piece, async ({ lab, input: { offset }, c }) => {
    const journal = idParam(c)
    if (offset > JOURNAL_LIMIT) throw new Refusal(422, { code: 'input', message: `offset must be at most ${JOURNAL_LIMIT}, as long as a journal may be; got ${offset}.` })
    const bytes = await readFile(c, PIECE_LIMIT)
    // Looked up anew: one that was revoked while its body was on the way must not get through.
    const { id, name } = deviceOf(c)
    const { held, runs, remarks } = lab.intakePiece({ journal, offset, bytes, who: name, device: id })
    return { held, runs, remarks: [...remarks] }
  })
  server.file(SYNC_ROUTES.keep, async ({ lab, input, c }) => {
    const bytes = await readFile(c, KEPT_LIMIT)
    const { id, name } = deviceOf(c)
    return { kept: (await lab.keepFileOfRun({ ...input, bytes, who: name, device: id })) !== null }
  })
  server.json(SYNC_ROUTES.state, ({ input, c }) => {
    const { answers, stop } = live.heard(deviceOf(c), input)
    return { now: now(), answers: [...answers], stop }
  })
  server.json(SYNC_ROUTES.seen, ({ lab, c }) => {
    const journal = idParam(c)
    // Refuses a device that is not the journal's.
    lab.heldJournal(journal, deviceOf(c).id)
    return { saw: [...lab.seenOfJournal(journal)] }
  })
}

/** The body of a request that is a file. A form or JSON here is another request that lost its way. */
async function readFile(c: Context, limit: number): Promise<Uint8Array> {
  const type = (c.req.header('content-type') ?? FILE_TYPE).split(';')[0].trim().toLowerCase()
  if (type !== FILE_TYPE) throw new Refusal(415, { code: 'body-type', message: `the body must be ${FILE_TYPE}; got ${type.slice(0, 100)}.` })
  return readBody(c, limit)
}

const FILE_TYPE = 'application/octet-stream'
