// Where a rig speaks to a person and hears them, as a port, and the port over the process's own terminal.
import { once } from 'node:events'
import { createInterface } from 'node:readline/promises'
import { plainText } from './plain-text.ts'

export interface Terminal {
  /** False: nobody is there to answer. */
  readonly interactive: boolean
  /** How much is said while a plan runs: a line for each step, or for each start. */
  readonly detail: 'steps' | 'starts'
  readonly say: (line: string) => void
  /** Rejects when the signal is aborted first. */
  readonly ask: (question: string, signal: AbortSignal) => Promise<string>
  /** Resolves at the next key; absent where there is no keyboard. Rejects when the signal is aborted first. */
  readonly key?: (signal: AbortSignal) => Promise<void>
}

/** Speaks on stdout; each step on a terminal, each start when piped, unless told otherwise. */
export function createTerminal(detail?: Terminal['detail']): Terminal {
  const interactive = process.stdin.isTTY && process.stdout.isTTY
  return {
    interactive,
    ...(interactive ? { key: nextKey } : {}),
    detail: detail ?? (interactive ? 'steps' : 'starts'),
    // Lines carry names out of plans and the last words of programs.
    say: (line) => void process.stdout.write(`${plainText(line)}\n`),
    ask: async (question, signal) => {
      const lines = createInterface({ input: process.stdin, output: process.stdout })
      // While it reads a line the terminal hands over Ctrl-C as a key.
      lines.on('SIGINT', () => process.kill(process.pid, 'SIGINT'))
      // Taken back at once: the next question may come before this one's promise is looked at.
      const takeBack = () => lines.close()
      signal.addEventListener('abort', takeBack, { once: true })
      try {
        return await lines.question(`${plainText(question)} `, { signal })
      } finally {
        signal.removeEventListener('abort', takeBack)
        lines.close()
        // What comes next stands on a line of its own.
        if (signal.aborted) process.stdout.write('\n')
      }
    },
  }
}

async function nextKey(signal: AbortSignal): Promise<void> {
  const { stdin } = process
  stdin.setRawMode(true)
  stdin.resume()
  try {
    const [pressed] = await once(stdin, 'data', { signal })
    // In this mode the terminal hands over Ctrl-C as a key.
    if (String(pressed) === '\u0003') process.kill(process.pid, 'SIGINT')
  } finally {
    stdin.setRawMode(false)
    stdin.pause()
  }
}
