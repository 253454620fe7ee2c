// `guardband rig ...`: hands over to the rig, which knows no workspace.
import { approve, EXIT, run, status } from '@guardband/rig/commands'
import { createTerminal } from '@guardband/rig/terminal'
import type { Terminal } from './terminal.ts'

export interface RigApproveOptions {
  readonly code?: string
}

export interface RigRunOptions {
  readonly folder?: string
  readonly asRoot?: true
  readonly eachStep?: true
}

export async function rigApprove(terminal: Terminal, planFile: string, { code }: RigApproveOptions): Promise<void> {
  const signal = stopSignal(terminal)
  terminal.setExitCode(await unlessStopped(signal, () => approve({ planFile, ...(code === undefined ? {} : { code }) }, createTerminal(), signal)))
}

export async function rigRun(terminal: Terminal, planFile: string, { folder, asRoot, eachStep }: RigRunOptions): Promise<void> {
  const signal = stopSignal(terminal)
  const args = { planFile, asRoot: asRoot === true, signal, ...(folder === undefined ? {} : { folder }) }
  terminal.setExitCode(await unlessStopped(signal, () => run(args, createTerminal(eachStep === true ? 'steps' : undefined))))
}

export async function rigStatus(terminal: Terminal, planFile: string, options: { readonly folder?: string }): Promise<void> {
  terminal.setExitCode(await status({ planFile, ...options }, createTerminal()))
}

function stopSignal(terminal: Terminal): AbortSignal {
  const stop = new AbortController()
  void terminal.ended().then(() => stop.abort())
  return stop.signal
}

/** A question that is broken off by the stop key is no fault. */
async function unlessStopped(signal: AbortSignal, work: () => Promise<number>): Promise<number> {
  try {
    return await work()
  } catch (cause) {
    if (signal.aborted && cause instanceof Error && cause.name === 'AbortError') return EXIT.stopped
    throw cause
  }
}
