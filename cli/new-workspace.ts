// `guardband new`: an empty workspace.
import { resolve } from 'node:path'
import type { Terminal } from './terminal.ts'
import { makeWorkspace } from './workspace.ts'

export async function newWorkspace(terminal: Terminal, options: { readonly folder: string; readonly name: string; readonly currency: string }): Promise<void> {
  const folder = resolve(terminal.folder, options.folder)
  const lab = makeWorkspace(terminal, folder, options)
  await lab.close()
  terminal.out(`Made ${folder}. Take in runs with: npx guardband take runs.csv --to ${options.folder}`)
}
