// `guardband backup`: a safe copy of a workspace, also while it is open.
import { resolve } from 'node:path'
import { counted } from '@guardband/model/figures'
import type { Terminal } from './terminal.ts'
import { visibleBytes } from './visible-bytes.ts'
import { withWorkspace } from './workspace.ts'

export async function backup(terminal: Terminal, options: { readonly to?: string; readonly in?: string }): Promise<void> {
  await withWorkspace(terminal, options.in, async (lab) => {
    const made = await lab.moving.backup(options.to === undefined ? undefined : resolve(terminal.folder, options.to))
    for (const { place, sentence } of made.findings) terminal.err(`${place}: ${sentence}`)
    terminal.out(`${made.folder}: ${counted(made.head, 'change')} and ${counted(made.files, 'file')} (${visibleBytes(made.bytes)}) copied, opened and compared; content digest ${made.digest.slice(0, SHOWN)}.`)
    if (made.findings.length > 0) {
      terminal.err(`The copy is as the workspace is; the check finds ${counted(made.findings.length, 'thing')} amiss in both.`)
      terminal.setExitCode(1)
    }
  })
}

const SHOWN = 12
