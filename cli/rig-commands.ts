// `guardband rig ...`: hands over to the rig, which knows no workspace.
import { resolve } from 'node:path'
import { approve, EXIT, machineSources, run, status, stop } from '@guardband/rig/commands'
import { startLean } from '@guardband/rig/lean-start'
import { listPlaces, pair, sync, unpair } from '@guardband/rig/sync/commands'
import { createTerminal } from '@guardband/rig/terminal'
import type { Terminal } from './terminal.ts'

export interface RigApproveOptions {
  readonly code?: string
}

export interface RigRunOptions {
  readonly folder?: string
  readonly asRoot?: true
  readonly eachStep?: true
  readonly unattended?: true
  readonly alone?: true
}

export async function rigApprove(terminal: Terminal, planFile: string, { code }: RigApproveOptions): Promise<void> {
  const signal = stopSignal(terminal)
  terminal.setExitCode(await unlessStopped(signal, () => approve({ planFile, ...(code === undefined ? {} : { code }) }, createTerminal(), signal)))
}

export async function rigRun(terminal: Terminal, planFile: string, { folder, asRoot, eachStep, unattended, alone }: RigRunOptions): Promise<void> {
  startLean(['run', ...(folder === undefined ? [] : ['--folder', folder]), ...(asRoot === true ? ['--as-root'] : []), ...(eachStep === true ? ['--each-step'] : []), ...(unattended === true ? ['--unattended'] : []), ...(alone === true ? ['--alone'] : []), '--', planFile])
  const signal = stopSignal(terminal)
  const args = { planFile, asRoot: asRoot === true, signal, attendance: unattended === true ? 'unattended' : 'attended', ...(alone === true ? { company: 'alone' as const } : {}), ...(folder === undefined ? {} : { folder }) } as const
  terminal.setExitCode(await unlessStopped(signal, () => run(args, createTerminal(eachStep === true ? 'steps' : undefined))))
}

export async function rigStop(terminal: Terminal, planFile: string, options: { readonly folder?: string }): Promise<void> {
  terminal.setExitCode(await stop({ planFile, ...options }, createTerminal()))
}

export async function rigInstall(terminal: Terminal, planFile: string, { folder, asRoot }: { readonly folder?: string; readonly asRoot?: true }): Promise<void> {
  const { install } = await import('@guardband/rig/commands/install')
  terminal.setExitCode(await install({ planFile, asRoot: asRoot === true, ...(folder === undefined ? {} : { folder }) }, createTerminal()))
}

export async function rigUninstall(terminal: Terminal, planFile: string): Promise<void> {
  const { uninstall } = await import('@guardband/rig/commands/install')
  terminal.setExitCode(await uninstall({ planFile }, createTerminal()))
}

export async function rigDoctor(terminal: Terminal, planFile: string | undefined, options: { readonly folder?: string }): Promise<void> {
  const { doctor } = await import('@guardband/rig/commands/doctor')
  terminal.setExitCode(await doctor({ ...(planFile === undefined ? {} : { planFile }), ...options }, createTerminal()))
}

export async function rigStatus(terminal: Terminal, planFile: string, options: { readonly folder?: string }): Promise<void> {
  terminal.setExitCode(await status({ planFile, ...options }, createTerminal()))
}

export async function rigCompanion(terminal: Terminal, watchFile: string, { listen, folder, asRoot }: { readonly listen?: string; readonly folder?: string; readonly asRoot?: true }): Promise<void> {
  const { companion } = await import('@guardband/rig/commands/companion')
  terminal.setExitCode(await companion({ watchFile, listen, folder, asRoot: asRoot === true, signal: stopSignal(terminal) }, createTerminal()))
}

export async function rigPair(terminal: Terminal, url: string, { code, fingerprint }: { readonly code?: string; readonly fingerprint?: string }): Promise<void> {
  terminal.setExitCode(await pair({ url, code, fingerprint }, createTerminal(), machineSources()))
}

export function rigPaired(terminal: Terminal): void {
  terminal.setExitCode(listPlaces(createTerminal()))
}

export function rigUnpair(terminal: Terminal, url: string): void {
  terminal.setExitCode(unpair(url, createTerminal(), machineSources()))
}

export async function rigSync(terminal: Terminal, paths: readonly string[]): Promise<void> {
  terminal.setExitCode(await sync(paths.map((path) => resolve(terminal.folder, path)), createTerminal(), machineSources()))
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
