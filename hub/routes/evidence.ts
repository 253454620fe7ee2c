// Routes over evidence: files come in as streams, and go out so that a browser runs nothing of them.
import type { Lab } from '@guardband/lab'
import { evidenceFilePath, EVIDENCE_LIMIT, idSchema, ROUTES, thumbnailPath, type SentEvidence } from '@guardband/model'
import { Refusal } from '../refusal.ts'
import { idParam, type Call, type RouteServer } from '../serve-route.ts'
import { readPieces, sendDownload } from '../stream-body.ts'

export function serveEvidenceRoutes(server: RouteServer, { who }: { readonly who: string }): void {
  server.json(ROUTES.evidence, ({ lab, input: { about } }) => ({ evidence: [...lab.evidence.about(about)] }))
  server.file(ROUTES.keepEvidence, (call) => keepSentEvidence(call, who))
  server.download(evidenceFilePath(':id'), ({ lab, c }) => {
    const id = idParam(c)
    const file = lab.evidence.file(id, 'file')
    const record = lab.get(id)
    return sendDownload(c, { name: record?.kind === 'evidence' ? record.name : id, type: file.picture ?? 'application/octet-stream', bytes: file.bytes, open: file.open })
  })
  server.download(thumbnailPath(':id'), ({ lab, c }) => {
    const file = lab.evidence.file(idParam(c), 'thumbnail')
    if (file.picture !== 'image/jpeg' && file.picture !== 'image/png') throw new Refusal(404, { code: 'no-thumbnail', message: 'the small picture is no JPEG or PNG any more.', mend: '"npx guardband check" says more.' })
    return sendDownload(c, { name: 'thumbnail', type: file.picture, bytes: file.bytes, open: file.open }, 'inline')
  })
}

/** Keeps the file that comes as the body of this request. `atEnd` may throw once all of it is here, and then none of it is kept. */
export function keepSentEvidence({ lab, input: { request, name, type, about, note, thumbnail }, c }: Call<SentEvidence>, who: string, atEnd: () => void = () => undefined): ReturnType<Lab['evidence']['keep']> {
  return lab.evidence.keep({
    request, who, name, mediaType: type, about: idList(about), thumbnailBytes: thumbnail, limit: EVIDENCE_LIMIT,
    ...(note === undefined ? {} : { note }),
    pieces: endingWith(readPieces(c, EVIDENCE_LIMIT + thumbnail, 'Make it smaller, or keep it elsewhere and say where in a note.'), atEnd),
  })
}

async function* endingWith(pieces: AsyncIterable<Uint8Array>, atEnd: () => void): AsyncGenerator<Uint8Array> {
  yield* pieces
  atEnd()
}

function idList(text: string): readonly string[] {
  const ids = text.split(',')
  if (ids.every((id) => idSchema.safeParse(id).success)) return ids
  throw new Refusal(400, { code: 'input', message: 'about must be UUIDs in lower case with commas between them.' })
}
