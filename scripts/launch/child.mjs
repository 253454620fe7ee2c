/** Runs a child process to its end, hands on signals, keeps its exit code. */
import { spawn } from 'node:child_process'
import { constants } from 'node:os'

const forwarded = /** @type {const} */ (['SIGINT', 'SIGTERM', 'SIGHUP'])

/**
 * @typedef {{ readonly file: string, readonly args: readonly string[], readonly env: NodeJS.ProcessEnv,
 *   readonly stdio: 'inherit' | 'captured', readonly cwd?: string, readonly onSpawn?: (pid: number) => void }} ChildRequest
 * @typedef {{ readonly code: number, readonly stopCode: number | undefined, readonly output: string }} ChildEnd
 */

/**
 * Resolves when the child has ended. `code` is 128 + signal number where a signal ended it, as shells count;
 * `stopCode` is there where it or this process was told to stop, whatever the child made of it. `output` is what a captured child wrote.
 * @param {ChildRequest} request
 * @returns {Promise<ChildEnd>}
 */
export function runChild({ file, args, env, stdio, cwd, onSpawn }) {
  return new Promise((resolve, reject) => {
    const captured = stdio === 'captured'
    const child = spawn(file, args, {
      env,
      ...(cwd === undefined ? {} : { cwd }),
      stdio: captured ? ['ignore', 'pipe', 'pipe'] : 'inherit',
    })
    let output = ''
    for (const stream of [child.stdout, child.stderr]) stream?.on('data', (part) => (output += String(part)))

    /** @type {NodeJS.Signals | undefined} */
    let told
    /** @param {NodeJS.Signals} signal */
    const handOn = (signal) => {
      told = signal
      // Ctrl-C in a terminal reaches the whole process group by itself; a second one would count as "really now".
      if (signal === 'SIGINT' && process.stdin.isTTY) return
      child.kill(signal)
    }
    for (const signal of forwarded) process.on(signal, handOn)
    const tidy = () => {
      for (const signal of forwarded) process.off(signal, handOn)
    }
    if (child.pid !== undefined) onSpawn?.(child.pid)
    child.on('error', (error) => {
      tidy()
      reject(error)
    })
    child.on('close', (code, signal) => {
      tidy()
      const stop = told ?? signal
      resolve({
        code: signal === null ? (code ?? 1) : codeOf(signal),
        stopCode: stop === null ? undefined : codeOf(stop),
        output,
      })
    })
  })
}

/** @param {NodeJS.Signals} signal */
function codeOf(signal) {
  return 128 + constants.signals[signal]
}

/** Thrown where a person stopped the preparation; carries the exit code that shells expect. */
export class Stopped extends Error {
  /** @param {number} exitCode */
  constructor(exitCode) {
    super('Stopped. Run the same command again to go on.')
    this.exitCode = exitCode
  }
}
