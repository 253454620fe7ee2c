// `guardband import`: a new workspace from what an export gave.
import { resolve } from 'node:path'
import { importInThread, type MovingProgress } from '@guardband/lab'
import { counted, fixed } from '@guardband/model/figures'
import type { Terminal } from './terminal.ts'
import { visibleBytes } from './visible-bytes.ts'

export async function importWorkspace(terminal: Terminal, options: { readonly file: string; readonly into: string }): Promise<void> {
  const into = resolve(terminal.folder, options.into)
  const stop = new AbortController()
  void terminal.ended().then(() => stop.abort())
  let shown = ''
  const show = (line: string): void => {
    if (line !== shown) terminal.progress(line)
    shown = line
  }
  const made = await importInThread(
    { file: resolve(terminal.folder, options.file), into, who: terminal.who },
    { signal: stop.signal, onProgress: (progress) => show(progressLine(progress)) },
  ).finally(() => show(''))
  terminal.out(`Made ${into}: "${made.lab}" as it was exported ${made.exported.slice(0, 'yyyy-mm-dd'.length)}, with the same content digest (${made.digest.slice(0, SHOWN)}).`)
  if (made.files.length > 0) {
    terminal.err(`${counted(made.files.length, 'file')} that its records name ${made.files.length === 1 ? 'is' : 'are'} not in an export of records: pictures, files, reports and journals. An archive takes them along, or copy those folders from the workspace.`)
  }
  terminal.out(`Open it with: npx guardband start ${options.into}`)
}

export function progressLine({ doing, done, all }: MovingProgress): string {
  const of = doing === 'unpacking' ? `${visibleBytes(done)} of ${visibleBytes(all)}` : `${fixed(done, 0)} of ${counted(all, 'record')}`
  return all === 0 ? SAID[doing] : `${SAID[doing]}: ${of}`
}

const SHOWN = 12

const SAID: Readonly<Record<MovingProgress['doing'], string>> = { reading: 'Reading', comparing: 'Comparing with its digest', writing: 'Writing', unpacking: 'Unpacking' }
