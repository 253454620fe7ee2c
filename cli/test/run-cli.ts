// Runs the command as people do: a process of its own, in a folder of its own.
import { spawn, type ChildProcessByStdio } from 'node:child_process'
import { join } from 'node:path'
import type { Readable } from 'node:stream'

export interface CliResult {
  readonly code: number
  readonly out: string
  readonly err: string
}

export interface CliPlace {
  readonly folder: string
  readonly env?: Readonly<Record<string, string>>
}

const MAIN = join(import.meta.dirname, '..', 'main.ts')

export async function runCli(place: CliPlace, ...args: readonly string[]): Promise<CliResult> {
  const child = spawnCli(place, ...args)
  const [out, err, code] = await Promise.all([textOf(child.stdout), textOf(child.stderr), new Promise<number>((resolve) => child.once('exit', (exit) => resolve(exit ?? -1)))])
  return { code, out, err }
}

export function spawnCli({ folder, env = {} }: CliPlace, ...args: readonly string[]): ChildProcessByStdio<null, Readable, Readable> {
  const inherited = Object.fromEntries(Object.entries(process.env).filter(([name]) => !['GUARDBAND_LAB', 'GUARDBAND_STACK', 'PORT'].includes(name)))
  return spawn(process.execPath, ['--disable-warning=ExperimentalWarning', MAIN, ...args], { cwd: folder, env: { ...inherited, ...env }, stdio: ['ignore', 'pipe', 'pipe'] })
}

async function textOf(stream: Readable): Promise<string> {
  let text = ''
  for await (const part of stream) text += String(part)
  return text
}
