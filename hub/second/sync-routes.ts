// What a rig hands over and hears: its journals in pieces, files of failed runs, and what it is at. Nothing here can make it run anything.
import { createHash } from 'node:crypto'
import { JOURNAL_LIMIT, KEPT_LIMIT, PIECE_LIMIT, SpokenError, SYNC_ROUTES } from '@guardband/model'
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
  server.json(SYNC_ROUTES.held, ({ lab, c }) => lab.heldJournal(idParam(c)))
  server.file(SYNC_ROUTES.piece, async ({ lab, input: { offset }, c }) => {
    const journal = idParam(c)
    if (offset > JOURNAL_LIMIT) throw tooLong()
    const bytes = await readBody(c, PIECE_LIMIT)
    if (offset + bytes.length > JOURNAL_LIMIT) throw tooLong()
    // Looked up anew: one that was revoked while its body was on the way must not get through.
    const { id, name } = deviceOf(c)
    const { held, runs, remarks } = spokenAs(STATUS_OF, () => lab.intakePiece({ journal, offset, bytes, who: name, device: id }))
    return { held, runs, remarks: [...remarks] }
  })
  server.file(SYNC_ROUTES.keep, async ({ lab, input: { run, what, sha256 }, c }) => {
    const bytes = await readBody(c, KEPT_LIMIT)
    const { name } = deviceOf(c)
    if (createHash('sha256').update(bytes).digest('hex') !== sha256) throw new Refusal(422, { code: 'kept-hash', message: 'the file must have the SHA-256 that it was announced with; it was changed or cut on the way.', mend: 'Send it again.' })
    if (lab.get(run)?.kind !== 'run') throw new Refusal(409, { code: 'not-yet', message: 'the run that it belongs to has not been handed over.', mend: 'Send its journal first.' })
    await lab.evidence.keep({
      request: requestOf(run, sha256), who: name, name: what === 'picture' ? 'picture' : `${what}.txt`, mediaType: what === 'picture' ? 'application/octet-stream' : 'text/plain', about: [run], thumbnailBytes: 0, limit: KEPT_LIMIT, pieces: inOnePiece(bytes),
    })
    return { kept: true }
  })
  server.json(SYNC_ROUTES.state, ({ input, c }) => {
    const { answers, stop } = live.heard(deviceOf(c), input)
    return { now: now(), answers: [...answers], stop }
  })
  server.json(SYNC_ROUTES.seen, ({ lab, c }) => ({ saw: [...lab.seenOfJournal(idParam(c))] }))
}

const STATUS_OF: Readonly<Record<string, 403 | 409 | 422 | undefined>> = { 'journal-fork': 409, 'journal-gap': 409, 'journal-foreign': 403, 'journal-piece': 422, 'journal-other': 422, 'journal-gaps': 409, 'journal-taken-back': 409 }

function spokenAs<Out>(statuses: typeof STATUS_OF, work: () => Out): Out {
  try {
    return work()
  } catch (error) {
    const status = error instanceof SpokenError ? statuses[error.code] : undefined
    if (status === undefined || !(error instanceof SpokenError)) throw error
    throw new Refusal(status, { code: error.code, message: error.sentence })
  }
}

function tooLong(): Refusal {
  return new Refusal(413, { code: 'too-large', message: `a journal must be at most ${JOURNAL_LIMIT / (1024 * 1024)} MB; got more.` })
}

/** The same file of the same run is the same request, however often it is sent: an id made of both. */
function requestOf(run: string, sha256: string): string {
  const hex = createHash('sha256').update(`${run} ${sha256}`).digest('hex')
  return [hex.slice(0, 8), hex.slice(8, 12), hex.slice(12, 16), hex.slice(16, 20), hex.slice(20, 32)].join('-')
}

async function* inOnePiece(bytes: Uint8Array): AsyncGenerator<Uint8Array> {
  yield bytes
}
