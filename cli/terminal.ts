// What a command needs of the process it runs in, so that it can be run without one.
import { userInfo } from 'node:os'
import { visibleText } from '@guardband/questions/visible-text'

export interface Terminal {
  /** A line of the result. */
  readonly out: (line: string) => void
  /** A line about the work: progress, problems. */
  readonly err: (line: string) => void
  /** How far a long work is: one line that is written over, empty when it is over. Only people see it, no file or pipe. */
  readonly progress: (line: string) => void
  readonly env: Readonly<Record<string, string | undefined>>
  readonly folder: string
  /** Columns to lay text out in. */
  readonly width: number
  /** Milliseconds since 1970. */
  readonly now: () => number
  readonly fillRandom: (bytes: Uint8Array) => void
  /** Name of the time zone that the machine's own clock shows; "Z" for UTC. */
  readonly zone: string
  /** Who stands in the change log. */
  readonly who: string
  readonly setExitCode: (code: number) => void
  /** Resolves when the person or the system asks the process to end. */
  readonly ended: () => Promise<void>
}

export function systemTerminal(system: NodeJS.Process): Terminal {
  // `guardband log | head`: the reader has seen enough.
  system.stdout.on('error', (error: NodeJS.ErrnoException) => {
    if (error.code === 'EPIPE') system.exit(0)
    throw error
  })
  return {
    out: (line) => void system.stdout.write(`${visibleLines(line)}\n`),
    err: (line) => void system.stderr.write(`${visibleLines(line)}\n`),
    // Back to the first column, and the rest of the line cleared (ECMA-48).
    progress: (line) => void (system.stderr.isTTY && system.stderr.write(`\r${visibleText(line)}\u001b[K`)),
    env: system.env,
    folder: system.cwd(),
    width: Math.max(MIN_WIDTH, Math.min(system.stdout.columns ?? PLAIN_WIDTH, MAX_WIDTH)),
    now: () => Date.now(),
    fillRandom: (bytes) => void crypto.getRandomValues(bytes),
    zone: clockZone(),
    who: userName(system),
    setExitCode: (code) => (system.exitCode = code),
    ended: () =>
      new Promise((resolve) => {
        const hear = (): void => {
          resolve()
          setTimeout(() => ENDS.forEach((signal) => system.off(signal, hear)), ECHO_MS).unref()
        }
        for (const signal of ENDS) system.on(signal, hear)
      }),
  }
}

const ENDS = ['SIGINT', 'SIGTERM', 'SIGHUP'] as const

/**
 * A closed terminal window signals the whole process group, and each launcher in between hands the signal on: what comes
 * again so soon is the same request, and must not cut off the tidy end. A later one means "really now".
 */
const ECHO_MS = 1000

/** Names come out of files: what would steer the terminal is shown instead. */
function visibleLines(text: string): string {
  return text.split('\n').map(visibleText).join('\n')
}

/** Where output goes to a file or pipe. */
const PLAIN_WIDTH = 100
const MIN_WIDTH = 40
/** Longer lines are hard to read. */
const MAX_WIDTH = 120

function clockZone(): string {
  const zone = Intl.DateTimeFormat().resolvedOptions().timeZone
  return zone === 'UTC' || zone === '' ? 'Z' : zone
}

/** Some containers have no name for the user's number. */
function userName(system: NodeJS.Process): string {
  try {
    return userInfo().username
  } catch {
    return system.env['USER'] ?? 'unknown'
  }
}
