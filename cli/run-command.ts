// Runs a command's work and turns what it throws into a sentence and an exit code.
import { SpokenError } from '@guardband/model/errors'
import type { Terminal } from './terminal.ts'

export async function runCommand(terminal: Terminal, work: () => Promise<void>): Promise<void> {
  try {
    await work()
  } catch (error) {
    terminal.setExitCode(1)
    if (error instanceof SpokenError) return terminal.err(error.sentence)
    terminal.setExitCode(UNFORESEEN)
    const insides = terminal.env['GUARDBAND_STACK'] === undefined ? undefined : error instanceof Error ? error.stack : undefined
    terminal.err(`Something went wrong that this program did not foresee: ${error instanceof Error ? error.message : String(error)}`)
    terminal.err(insides ?? 'Set GUARDBAND_STACK=1 to see where.')
  }
}

/** EX_SOFTWARE of sysexits.h: tells our own faults from a person's input. */
const UNFORESEEN = 70
