// `guardband import`: a new workspace from what an export gave.
import { resolve } from 'node:path'
import { importFile } from '@guardband/lab'
import { counted } from '@guardband/model/figures'
import type { Terminal } from './terminal.ts'
import { labSources } from './workspace.ts'

export async function importWorkspace(terminal: Terminal, options: { readonly file: string; readonly into: string }): Promise<void> {
  const into = resolve(terminal.folder, options.into)
  const made = await importFile({ file: resolve(terminal.folder, options.file), into, who: terminal.who }, labSources(terminal))
  terminal.out(`Made ${into}: "${made.lab}" as it was exported ${made.exported.slice(0, 'yyyy-mm-dd'.length)}, with the same content digest (${made.digest.slice(0, SHOWN)}).`)
  if (made.files.length > 0) {
    terminal.err(`${counted(made.files.length, 'file')} that its records name ${made.files.length === 1 ? 'is' : 'are'} not in an export of records: pictures, files, reports and journals. An archive takes them along, or copy those folders from the workspace.`)
  }
  terminal.out(`Open it with: npx guardband start ${options.into}`)
}

const SHOWN = 12
