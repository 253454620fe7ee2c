// Routes that take a workspace elsewhere and back.
import { PassThrough } from 'node:stream'
import type { Imported, Lab, MovingProgress } from '@guardband/lab'
import { EXPORT_FORMS, exportPath, IMPORT_LIMIT, ROUTES } from '@guardband/model'
import { Refusal } from '../refusal.ts'
import { idParam, type RouteServer } from '../serve-route.ts'
import { readPieces, sendDownload } from '../stream-body.ts'

/** What an export came to, and the workspace that is served now. */
export interface Opened {
  readonly lab: Lab
  readonly imported: Imported
}

/** Follows one that is under way. */
export interface OpeningInput {
  readonly pieces: AsyncIterable<Uint8Array>
  readonly file: string
  readonly signal: AbortSignal
  readonly onProgress: (progress: MovingProgress) => void
}

export type SwitchToExported = (input: OpeningInput) => Promise<Opened>

/** Where it stands, and how it is stopped. */
interface Opening {
  progress: Standing
  readonly stop: AbortController
}

type Standing = Omit<MovingProgress, 'doing'> & { readonly doing: MovingProgress['doing'] | 'receiving' | 'nothing' }

export function serveMovingRoutes(server: RouteServer, { switchToExported }: { readonly switchToExported: SwitchToExported }): void {
  const openings = new Map<string, Opening>()
  server.json(ROUTES.moving, ({ lab }) => ({ lastBackup: lab.moving.lastBackup(), missingFiles: lab.moving.missingFiles() }))
  server.json(ROUTES.backup, async ({ lab }) => {
    const { head, findings, ...made } = await lab.moving.backup()
    return { ...made, changes: head, findings: [...findings] }
  })
  server.json(ROUTES.check, async ({ lab }) => ({ findings: [...(await lab.moving.check())] }))
  server.download(exportPath(':form'), async ({ lab, c }) => {
    const form = EXPORT_FORMS.find((each) => each === c.req.param('form'))
    if (form === undefined) throw new Refusal(404, { code: 'no-export-form', message: `an export is one of ${EXPORT_FORMS.join(', ')}.` })
    const { lab: about } = lab.info()
    const name = `${about.name} ${SAID[form].said}${SAID[form].ending}`
    if (c.req.raw.method === 'HEAD') return sendDownload(c, { name, type: SAID[form].type, open: () => new PassThrough() })
    const stream = await lab.moving.export(form)
    return sendDownload(c, { name, type: SAID[form].type, open: () => stream })
  })
  server.file(ROUTES.openExport, async ({ input: { file, id }, c }) => {
    const opening: Opening = { progress: { doing: 'receiving', done: 0, all: 0 }, stop: new AbortController() }
    if (id !== undefined) {
      if (openings.has(id)) throw new Refusal(400, { code: 'opening-twice', message: 'a file is being opened under this id already.', mend: 'Send it under an id of its own.' })
      openings.set(id, opening)
    }
    try {
      const pieces = readPieces(c, IMPORT_LIMIT, 'Import it with the command: npx guardband import FILE FOLDER.')
      const { lab, imported } = await switchToExported({ pieces, file, signal: opening.stop.signal, onProgress: (progress) => (opening.progress = progress) })
      return { lab: imported.lab, folder: lab.folder, digest: imported.digest, missing: imported.files.length }
    } catch (error) {
      // Whatever broke when it was stopped, broke because of that.
      throw opening.stop.signal.aborted ? new Refusal(400, { code: 'import-cancelled', message: 'the import was cancelled; no workspace was made of it.' }) : error
    } finally {
      if (id !== undefined) openings.delete(id)
    }
  })
  server.json(ROUTES.openProgress, ({ c }) => openings.get(idParam(c))?.progress ?? { doing: 'nothing', done: 0, all: 0 })
  server.json(ROUTES.openCancel, ({ c }) => {
    const opening = openings.get(idParam(c))
    opening?.stop.abort()
    return { cancelled: opening !== undefined }
  })
}

const SAID = {
  archive: { said: 'workspace', ending: '.zip', type: 'application/zip' },
  json: { said: 'records', ending: '.json', type: 'application/json' },
  csv: { said: 'records as CSV', ending: '.zip', type: 'application/zip' },
} as const
