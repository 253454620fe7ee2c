// Makes a workspace of an export that the page sent, in the folder for workspaces made from the page.
import { existsSync, mkdirSync, rmSync } from 'node:fs'
import { join, parse } from 'node:path'
import { addAbortSignal, Readable } from 'node:stream'
import type { OpeningInput } from '@guardband/hub'
import { importInThread, keepStream, openLab, type Imported, type Lab } from '@guardband/lab'
import { createIdFactory } from '@guardband/model'
import { slugOf } from './slug.ts'
import type { Terminal } from './terminal.ts'
import { labSources } from './workspace.ts'

export async function openExported(terminal: Terminal, own: string, input: OpeningInput): Promise<{ readonly lab: Lab; readonly imported: Imported }> {
  mkdirSync(own, { recursive: true })
  // On the disk that the workspace goes to; a temporary folder elsewhere may be too small.
  const received = join(own, `.received-${createIdFactory(terminal)()}`)
  try {
    await keepStream(addAbortSignal(input.signal, Readable.from(input.pieces)), received)
    const { signal, onProgress } = input
    const imported = await importInThread({ file: received, shown: input.file, into: freeFolder(own, slugOf(parse(input.file).name)), who: terminal.who }, { signal, onProgress })
    return { lab: openLab(imported.folder, labSources(terminal)), imported }
  } finally {
    rmSync(received, { force: true })
  }
}

function freeFolder(own: string, name: string): string {
  for (let again = 1; ; again++) {
    const folder = join(own, again === 1 ? name : `${name}-${again}`)
    if (!existsSync(folder)) return folder
  }
}
