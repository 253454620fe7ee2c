// What failed runs printed: a file is taken only when the journal that holds the run's end names it, from the device that handed that journal over.
import { createHash } from 'node:crypto'
import { KEPT_LIMIT, SpokenError, type JournalBodyOf } from '@guardband/model'
import type { EvidenceBook, KeptEvidence } from '../../evidence/evidence-book.ts'
import type { LabCore } from '../../lab-core.ts'
import { requireOwner } from './intake-journal.ts'
import { bodiesOf, createJournalBook } from './journal-book.ts'

export interface KeptFile {
  readonly run: string
  readonly what: 'output' | 'error output' | 'picture'
  readonly sha256: string
  readonly bytes: Uint8Array
  readonly who: string
  readonly device: string
}

/** Keeps it as evidence about its run; again changes nothing. Null where a person took the run or the file off since: it stays off. */
export async function keepFileOfRun(core: LabCore, evidence: EvidenceBook, file: KeptFile): Promise<KeptEvidence | null> {
  const { run, what, sha256, bytes, who } = file
  if (createHash('sha256').update(bytes).digest('hex') !== sha256) {
    throw new SpokenError({ code: 'file-not-sent', message: 'the file must have the SHA-256 that it was announced with; it was changed or cut on the way.', mend: 'Send it again.' })
  }
  if (takenOff(core, run, sha256)) return null
  const named = namedBy(core, file)
  const request = requestOf(run, sha256)
  return evidence.keep({
    request, who, about: [run], thumbnailBytes: 0, limit: KEPT_LIMIT, pieces: inOnePiece(bytes),
    name: what === 'picture' ? 'picture' : `${what}.txt`,
    mediaType: what === 'picture' ? 'application/octet-stream' : 'text/plain',
    ...(named.cut === true ? { note: 'Longer than a rig keeps: only its end is here.' } : {}),
  })
}

/** The run is gone though it was there, or the change that put the file in was taken back. */
function takenOff({ db, store, log }: LabCore, run: string, sha256: string): boolean {
  const was = db.prepare<[string], number>('SELECT 1 FROM change_item WHERE id = ? LIMIT 1').pluck().get(run) !== undefined
  if (was && store.kindOf(run) === undefined) return true
  const made = db.prepare<[string], number>('SELECT seq FROM change WHERE request = ?').pluck().get(requestOf(run, sha256))
  return made !== undefined && !log.stands(made)
}

type Named = NonNullable<JournalBodyOf<'end'>['kept']>[number]

function namedBy(core: LabCore, { run, what, sha256, device }: KeptFile): Named {
  const record = core.store.get(run)
  const start = record?.kind === 'run' ? core.store.get(record.startId) : undefined
  const book = createJournalBook(core)
  const row = start?.kind === 'start' && start.source !== undefined ? book.row(start.source) : undefined
  if (row === undefined) throw new SpokenError({ code: 'kept-not-yet', place: `run ${run}`, message: 'the journal that tells of it has not been handed over.', mend: 'Send that first, then the file again.' })
  requireOwner(core, row, device)
  const end = bodiesOf(book.kept(row.id).entries, 'end').find(({ runId }) => runId === run)
  const named = end?.kept?.find((kept) => kept.sha256 === sha256 && kept.what === what)
  if (named === undefined) throw new SpokenError({ code: 'kept-not-named', place: `run ${run}`, message: `its end names no ${what} with this SHA-256.`, mend: 'Only what the journal names is kept.' })
  return named
}

/** The same file of the same run is the same request, however often it is sent: an id made of both. */
function requestOf(run: string, sha256: string): string {
  const hex = createHash('sha256').update(`${run} ${sha256}`).digest('hex')
  return [hex.slice(0, 8), hex.slice(8, 12), hex.slice(12, 16), hex.slice(16, 20), hex.slice(20, 32)].join('-')
}

async function* inOnePiece(bytes: Uint8Array): AsyncGenerator<Uint8Array> {
  yield bytes
}
