// The command driver: starts an approved program without a shell, in its own process group, and watches it to its end.
import { spawn } from 'node:child_process'
import { signalGroup } from './process-group.ts'

export interface CommandOrder {
  /** Absolute path as approved. */
  readonly executable: string
  /** The name it was called by: programs behind one file tell by it what they are asked for. */
  readonly calledAs: string
  readonly args: readonly string[]
  readonly folder: string
  /** All of the environment: nothing of the rig's own is passed on. */
  readonly environment: Readonly<Record<string, string>>
  readonly timeLimitSeconds: number
}

export interface CommandEnd {
  readonly how: 'ended' | 'time limit' | 'stopped' | 'not started'
  readonly exitStatus: number | null
  readonly signal: string | null
  readonly seconds: number
  readonly output: CapturedText
  readonly errorOutput: CapturedText
  /** Why it did not start. */
  readonly message: string | null
}

export interface CapturedText {
  /** The last `CAPTURE_LIMIT` bytes as UTF-8. */
  readonly text: string
  /** The same as they came. */
  readonly bytes: Uint8Array
  readonly cut: boolean
}

export interface CommandSources {
  /** Seconds from a clock that never steps. */
  readonly monotonic: () => number
  /** Ends the command when it is aborted. */
  readonly signal: AbortSignal
  readonly onStart?: (pid: number) => void
}

/** Of each output this much is kept, from its end: results stand there. */
export const CAPTURE_LIMIT = 1024 * 1024

/** Resolves once the whole group has ended; never rejects. */
export function runCommand(order: CommandOrder, { monotonic, signal, onStart }: CommandSources): Promise<CommandEnd> {
  return new Promise((resolve) => {
    const begun = monotonic()
    const child = spawn(order.executable, [...order.args], {
      argv0: order.calledAs,
      cwd: order.folder,
      env: { ...order.environment },
      detached: true,
      shell: false,
      stdio: ['ignore', 'pipe', 'pipe'],
      windowsHide: true,
    })
    const output = captureTail(child.stdout)
    const errorOutput = captureTail(child.stderr)
    let how: CommandEnd['how'] = 'ended'
    let ended = begun
    let kill: NodeJS.Timeout | undefined
    let letGo: NodeJS.Timeout | undefined
    const { pid } = child

    const endGroup = (why: 'time limit' | 'stopped') => {
      if (pid === undefined || how !== 'ended') return
      how = why
      signalGroup(pid, 'SIGTERM')
      kill = setTimeout(() => signalGroup(pid, 'SIGKILL'), GRACE_MS)
    }
    const onAbort = () => endGroup('stopped')
    const limit = setTimeout(() => endGroup('time limit'), order.timeLimitSeconds * 1000)
    signal.addEventListener('abort', onAbort, { once: true })
    if (signal.aborted) onAbort()
    if (pid !== undefined) onStart?.(pid)

    const finish = (exitStatus: number | null, endSignal: string | null, message: string | null) => {
      clearTimeout(limit)
      clearTimeout(kill)
      clearTimeout(letGo)
      signal.removeEventListener('abort', onAbort)
      resolve({ how, exitStatus, signal: endSignal, seconds: Math.max(0, ended - begun), output: output(), errorOutput: errorOutput(), message })
    }
    child.on('error', (cause) => {
      if (pid !== undefined) return
      how = 'not started'
      ended = monotonic()
      finish(null, null, cause.message)
    })
    child.on('exit', () => {
      ended = monotonic()
      clearTimeout(limit)
      // Whatever it left running would disturb the next run, and would hold its output open.
      if (pid !== undefined) signalGroup(pid, 'SIGKILL')
      letGo = setTimeout(() => {
        child.stdout.destroy()
        child.stderr.destroy()
      }, LET_GO_MS)
    })
    child.on('close', (exitStatus, endSignal) => {
      if (pid !== undefined) finish(exitStatus, endSignal, null)
    })
  })
}

/** Time that a program gets to tidy up between SIGTERM and SIGKILL. */
const GRACE_MS = 2000

/** A process that left the group can hold the outputs open; after this they are closed from here. */
const LET_GO_MS = 1000

function captureTail(stream: NodeJS.ReadableStream): () => CapturedText {
  const chunks: Buffer[] = []
  let bytes = 0
  let cut = false
  stream.on('data', (chunk: Buffer) => {
    chunks.push(chunk)
    bytes += chunk.length
    while (bytes - chunks[0].length >= CAPTURE_LIMIT) {
      bytes -= chunks[0].length
      chunks.shift()
      cut = true
    }
  })
  // A pipe that breaks says nothing that the exit doesn't say.
  stream.on('error', () => {})
  return () => {
    const all = Buffer.concat(chunks)
    const bytes = all.subarray(Math.max(0, all.length - CAPTURE_LIMIT))
    return { text: bytes.toString('utf8'), bytes, cut: cut || all.length > CAPTURE_LIMIT }
  }
}
