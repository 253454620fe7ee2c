// Pictures and files beside records: the file is on disk before the change that names it, and one request is kept once.
import { createReadStream, openSync, closeSync, readSync, statSync } from 'node:fs'
import path from 'node:path'
import { Readable } from 'node:stream'
import { canonicalJson, evidenceSchema, LONGEST_WHAT, SpokenError, type Evidence } from '@guardband/model'
import { momentNow, type LabCore } from '../lab-core.ts'
import { describeRecord } from '../store/describe.ts'
import { parseBody } from '../store/record-store.ts'
import { harmlessName } from './file-name.ts'
import { HEAD_BYTES, pictureType, type PictureType } from './picture-type.ts'
import { receiveFile } from './receive-file.ts'
import { splitHead } from './split-head.ts'

export const EVIDENCE_FOLDER = 'evidence'

export interface EvidenceIntake {
  readonly request: string
  readonly who: string
  /** As it was called where it came from. */
  readonly name: string
  readonly mediaType: string
  readonly about: readonly string[]
  readonly note?: string
  /** So many of the first bytes are a thumbnail: a JPEG or PNG. */
  readonly thumbnailBytes: number
  readonly pieces: AsyncIterable<Uint8Array>
  /** Bytes that the file may have. */
  readonly limit: number
}

export interface KeptEvidence {
  readonly evidence: Evidence
  readonly change: number
}

export interface EvidenceFile {
  readonly bytes: number
  /** Null: not to be shown, only handed over as a file. */
  readonly picture: PictureType | null
  readonly open: () => Readable
}

export interface EvidenceBook {
  readonly keep: (input: EvidenceIntake) => Promise<KeptEvidence>
  readonly about: (id: string) => readonly Evidence[]
  /** Throws a sentence when the record or its file is not there, or not as long as it was. */
  readonly file: (id: string, which: 'file' | 'thumbnail') => EvidenceFile
}

export function createEvidenceBook(core: LabCore): EvidenceBook {
  const { db, store, log } = core
  const folder = path.join(core.folder, EVIDENCE_FOLDER)
  const byRequest = db.prepare<[string], { seq: number }>('SELECT seq FROM change WHERE request = ?')
  const holding = db.prepare<[string], { body: string }>(`SELECT body FROM record WHERE kind = 'evidence' AND instr(body, ?) > 0 ORDER BY id`)

  return {
    keep: async (input) => {
      requireAbout(core, input.about)
      const { head, rest } = await splitHead(input.pieces, input.thumbnailBytes)
      const thumbnail = head.byteLength === 0 ? undefined : requireThumbnail(head)
      const file = await receiveFile(folder, rest, { limit: input.limit, newId: core.sources.newId })
      const small = thumbnail === undefined ? undefined : await receiveFile(folder, once(thumbnail), { limit: thumbnail.byteLength, newId: core.sources.newId })
      return core.transact(() => {
        const made = byRequest.get(input.request)
        if (made !== undefined) return repeated(core, made.seq, input, file.sha256)
        const evidence = evidenceSchema.parse({
          kind: 'evidence',
          id: core.sources.newId(),
          sha256: file.sha256,
          name: harmlessName(input.name),
          mediaType: mediaType(input.mediaType),
          bytes: file.bytes,
          at: momentNow(core),
          by: input.who,
          about: [...input.about],
          ...(input.note === undefined || input.note === '' ? {} : { note: input.note }),
          ...(small === undefined ? {} : { thumbnail: small.sha256 }),
        })
        const beside = store.get(input.about[0] ?? '')
        const what = `Put "${evidence.name}" beside ${beside === undefined ? 'a record' : describeRecord(beside, store.get)}`.slice(0, LONGEST_WHAT)
        return { evidence, change: log.write({ who: input.who, what, items: [{ before: null, after: evidence }], request: input.request }) }
      })
    },
    about: (id) =>
      holding.all(id).flatMap(({ body }) => {
        const record = parseBody(body)
        return record.kind === 'evidence' && record.about.includes(id) ? [record] : []
      }),
    file: (id, which) => {
      const record = store.get(id)
      const sha256 = record?.kind !== 'evidence' ? undefined : which === 'file' ? record.sha256 : record.thumbnail
      if (record?.kind !== 'evidence' || sha256 === undefined) throw new SpokenError({ code: 'no-evidence', message: which === 'file' ? 'there is no such file in this workspace.' : 'it has no small picture.', mend: 'It may have been taken off; look in the change log.' })
      return openFile(path.join(folder, sha256), { name: record.name, bytes: which === 'file' ? record.bytes : undefined })
    },
  }
}

function requireAbout({ store }: LabCore, about: readonly string[]): void {
  if (about.length === 0) throw new SpokenError({ code: 'evidence-about', message: 'evidence must stand beside at least one record; got none.' })
  const gone = about.find((id) => store.kindOf(id) === undefined)
  if (gone !== undefined) throw new SpokenError({ code: 'no-record', message: `there is no record ${gone} in this workspace to put it beside.`, mend: 'It may have been taken out; look in the change log.' })
}

function requireThumbnail(head: Uint8Array): Uint8Array {
  const type = pictureType(head)
  if (type === 'image/jpeg' || type === 'image/png') return head
  throw new SpokenError({ code: 'thumbnail-type', message: 'the small picture must be a JPEG or a PNG; got something else.', mend: 'Send the file without one.' })
}

/** The reply to a request that was kept before. */
function repeated({ log }: LabCore, seq: number, input: EvidenceIntake, sha256: string): KeptEvidence {
  if (!log.stands(seq)) throw new SpokenError({ code: 'request-taken-back', place: `change ${seq}`, message: 'the file was put in under the same request, and taken back since.', mend: 'Choose the file anew to put it in again.' })
  const evidence = log.items(seq)[0]?.after
  if (evidence?.kind === 'evidence' && evidence.sha256 === sha256 && canonicalJson(evidence.about) === canonicalJson(input.about)) return { evidence, change: seq }
  throw new SpokenError({ code: 'request-reused', place: `change ${seq}`, message: 'it was made under the same request, but it is another change.', mend: 'Send it under an id of its own.' })
}

function mediaType(said: string): string {
  return /^[\w.+-]{1,60}\/[\w.+-]{1,38}$/.test(said) ? said.toLowerCase() : 'application/octet-stream'
}

function openFile(file: string, known: { readonly name: string; readonly bytes: number | undefined }): EvidenceFile {
  const head = new Uint8Array(HEAD_BYTES)
  let bytes: number
  try {
    const handle = openSync(file, 'r')
    try {
      bytes = statSync(file).size
      readSync(handle, head, 0, HEAD_BYTES, 0)
    } finally {
      closeSync(handle)
    }
  } catch {
    throw new SpokenError({ code: 'no-evidence-file', place: known.name, message: 'the file is no longer in the evidence folder.', mend: 'Put it back from a copy; "npx guardband check" names its hash.' })
  }
  if (known.bytes !== undefined && bytes !== known.bytes) {
    throw new SpokenError({ code: 'evidence-altered', place: known.name, message: `the file must have ${known.bytes} bytes as when it was kept; it has ${bytes}.`, mend: 'Put it back from a copy; "npx guardband check" names its hash.' })
  }
  return { bytes, picture: pictureType(head), open: () => createReadStream(file, { start: 0, end: bytes - 1 }) }
}

async function* once(bytes: Uint8Array): AsyncGenerator<Uint8Array> {
  yield bytes
}
