// `guardband export`: everything a workspace holds as one file.
import { resolve } from 'node:path'
import { keepStream, type ExportForm } from '@guardband/lab'
import { visibleBytes } from './visible-bytes.ts'
import type { Terminal } from './terminal.ts'
import { withWorkspace } from './workspace.ts'

export async function exportWorkspace(terminal: Terminal, options: { readonly file: string; readonly as: ExportForm; readonly in?: string }): Promise<void> {
  const file = resolve(terminal.folder, options.file)
  await withWorkspace(terminal, options.in, async (lab) => {
    const bytes = await keepStream(await lab.moving.export(options.as), file)
    terminal.out(`${file}: ${SAID[options.as]}, ${visibleBytes(bytes)}`)
  })
}

const SAID: Readonly<Record<ExportForm, string>> = {
  json: 'all records as JSON',
  csv: 'all records as CSV files in one zip',
  archive: 'the whole workspace, with its change log and files',
}
