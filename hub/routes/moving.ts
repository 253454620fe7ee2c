// Routes that take a workspace elsewhere and back.
import { PassThrough } from 'node:stream'
import type { Imported, Lab } from '@guardband/lab'
import { EXPORT_FORMS, exportPath, IMPORT_LIMIT, ROUTES } from '@guardband/model'
import { Refusal } from '../refusal.ts'
import type { RouteServer } from '../serve-route.ts'
import { readPieces, sendDownload } from '../stream-body.ts'

/** What an export came to, and the workspace that is served now. */
export interface Opened {
  readonly lab: Lab
  readonly imported: Imported
}

export type SwitchToExported = (input: { readonly pieces: AsyncIterable<Uint8Array>; readonly file: string }) => Promise<Opened>

export function serveMovingRoutes(server: RouteServer, { switchToExported }: { readonly switchToExported: SwitchToExported }): void {
  server.json(ROUTES.moving, ({ lab }) => ({ lastBackup: lab.moving.lastBackup(), missingFiles: lab.moving.missingFiles() }))
  server.json(ROUTES.backup, async ({ lab }) => {
    const { head, findings, ...made } = await lab.moving.backup()
    return { ...made, changes: head, findings: [...findings] }
  })
  server.json(ROUTES.check, ({ lab }) => ({ findings: [...lab.check()] }))
  server.download(exportPath(':form'), async ({ lab, c }) => {
    const form = EXPORT_FORMS.find((each) => each === c.req.param('form'))
    if (form === undefined) throw new Refusal(404, { code: 'no-export-form', message: `an export is one of ${EXPORT_FORMS.join(', ')}.` })
    const { lab: about } = lab.info()
    const name = `${about.name} ${SAID[form].said}${SAID[form].ending}`
    if (c.req.raw.method === 'HEAD') return sendDownload(c, { name, type: SAID[form].type, open: () => new PassThrough() })
    const stream = await lab.moving.export(form)
    return sendDownload(c, { name, type: SAID[form].type, open: () => stream })
  })
  server.file(ROUTES.openExport, async ({ input: { file }, c }) => {
    const { lab, imported } = await switchToExported({ pieces: readPieces(c, IMPORT_LIMIT, 'Import it with the command: npx guardband import FILE FOLDER.'), file })
    return { lab: imported.lab, folder: lab.folder, digest: imported.digest, missing: imported.files.length }
  })
}

const SAID = {
  archive: { said: 'workspace', ending: '.zip', type: 'application/zip' },
  json: { said: 'records', ending: '.json', type: 'application/json' },
  csv: { said: 'records as CSV', ending: '.zip', type: 'application/zip' },
} as const
