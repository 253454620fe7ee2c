// Routes over records of any kind.
import { describeRecord } from '@guardband/lab'
import { ROUTES, UNWRITTEN_KINDS } from '@guardband/model'
import { Refusal } from '../refusal.ts'
import { idParam, type RouteServer } from '../serve-route.ts'

export function serveRecordRoutes(server: RouteServer, { who }: { readonly who: string }): void {
  server.json(ROUTES.apply, ({ lab, input: { why, ...change } }) => {
    for (const { before, after } of change.items) {
      const kind = (after ?? before)?.kind
      if (after?.kind === 'evidence' && (before?.kind !== 'evidence' || KEPT_OF_EVIDENCE.some((field) => before[field] !== after[field]))) {
        throw new Refusal(400, { code: 'evidence-without-file', message: "a file's record is made by sending the file.", mend: 'Its name, note and what it stands beside can be changed.' })
      }
      if (kind !== undefined && UNWRITTEN_KINDS.has(kind)) throw new Refusal(400, { code: 'unwritten-kind', message: `a ${kind} can't be written by hand.` })
    }
    return { change: lab.apply({ ...change, ...(why === undefined || why === '' ? {} : { why }), who }) }
  }, CHANGE_LIMIT)
  server.json(ROUTES.records, ({ lab, input: { kind } }) => ({ records: [...lab.list(kind)] }))
  server.json(ROUTES.record, ({ lab, c }) => {
    const record = lab.get(idParam(c))
    if (record === undefined) throw new Refusal(404, { code: 'no-record', message: 'there is no such record in this workspace.', mend: 'It may have been taken out; look in the change log.' })
    return { record, name: describeRecord(record, (id) => lab.get(id)) }
  })
}

/** What the file is, and who put it in when. */
const KEPT_OF_EVIDENCE = ['sha256', 'thumbnail', 'bytes', 'mediaType', 'by', 'at'] as const

/** As many items as a change may have, each of them before and after, with serials and reasons. */
const CHANGE_LIMIT = 8 * 1024 * 1024
