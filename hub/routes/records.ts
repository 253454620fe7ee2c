// Routes over records of any kind.
import { describeRecord } from '@guardband/lab'
import { canonicalJson, ROUTES, UNWRITTEN_KINDS, type ChangeItem } from '@guardband/model'
import { Refusal } from '../refusal.ts'
import { idParam, type RouteServer } from '../serve-route.ts'

export function serveRecordRoutes(server: RouteServer, { who }: { readonly who: string }): void {
  server.json(ROUTES.apply, ({ lab, input: { why, ...change } }) => {
    for (const { before, after } of change.items) {
      const kind = (after ?? before)?.kind
      if (after?.kind === 'evidence' && (before?.kind !== 'evidence' || KEPT_OF_EVIDENCE.some((field) => before[field] !== after[field]))) {
        throw new Refusal(400, { code: 'evidence-without-file', message: "a file's record is made by sending the file.", mend: 'Its name, note and what it stands beside can be changed.' })
      }
      // What was fixed before the data stays as it was fixed; another question is asked anew.
      if (after?.kind === 'question' && (before?.kind !== 'question' || canonicalJson(before.ask) !== canonicalJson(after.ask))) {
        throw new Refusal(400, { code: 'question-by-hand', message: 'what a question asks is fixed when it is asked.', mend: 'Ask another question.' })
      }
      if (kind !== undefined && UNWRITTEN_KINDS.has(kind)) throw new Refusal(400, { code: 'unwritten-kind', message: `a ${kind} can't be written by hand.` })
    }
    const items = change.items.map((item) => signed(item, who))
    return { change: lab.apply({ ...change, items, ...(why === undefined || why === '' ? {} : { why }), who }) }
  }, CHANGE_LIMIT)
  server.json(ROUTES.records, ({ lab, input: { kind } }) => ({ records: [...lab.list(kind)] }))
  server.json(ROUTES.record, ({ lab, c }) => {
    const record = lab.get(idParam(c))
    if (record === undefined) throw new Refusal(404, { code: 'no-record', message: 'there is no such record in this workspace.', mend: 'It may have been taken out; look in the change log.' })
    return { record, name: describeRecord(record, (id) => lab.get(id)) }
  })
}

/** Who did it is not for the page to say: what is new or changed in such a mark bears the name that the log bears. */
function signed({ before, after }: ChangeItem, who: string): ChangeItem {
  const fresh = <Mark extends { readonly by: string }>(mark: Mark, earlier: Mark | undefined): Mark => (earlier !== undefined && canonicalJson(earlier) === canonicalJson(mark) ? mark : { ...mark, by: who })
  if (after?.kind === 'run' && after.setAside !== undefined) {
    return { before, after: { ...after, setAside: fresh(after.setAside, before?.kind === 'run' ? before.setAside : undefined) } }
  }
  if (after?.kind === 'tune' && after.override !== undefined) {
    return { before, after: { ...after, override: fresh(after.override, before?.kind === 'tune' ? before.override : undefined) } }
  }
  if (after?.kind !== 'sample') return { before, after }
  const earlier = before?.kind === 'sample' ? before : undefined
  const { quarantine, inspections, bin } = after
  return {
    before,
    after: {
      ...after,
      ...(quarantine === undefined ? {} : { quarantine: fresh(quarantine, earlier?.quarantine) }),
      ...(inspections === undefined ? {} : { inspections: inspections.map((inspection, place) => fresh(inspection, earlier?.inspections?.[place])) }),
      ...(bin === undefined ? {} : { bin: fresh(bin, earlier?.bin) }),
    },
  }
}

/** What the file is, and who put it in when. */
const KEPT_OF_EVIDENCE = ['sha256', 'thumbnail', 'bytes', 'mediaType', 'by', 'at'] as const

/** As many items as a change may have, each of them before and after, with serials and reasons. */
const CHANGE_LIMIT = 8 * 1024 * 1024
