// Runs a command's work and turns what it throws into a sentence and an exit code.
import { SpokenError } from '@guardband/model/errors'
import type { Terminal } from './terminal.ts'

export async function runCommand(terminal: Terminal, work: () => Promise<void>): Promise<void> {
  try {
    await work()
  } catch (error) {
    terminal.setExitCode(1)
    if (error instanceof SpokenError) return terminal.err(error.sentence)
    const file = fileSentence(error)
    if (file !== undefined) return terminal.err(file)
    terminal.setExitCode(UNFORESEEN)
    const insides = terminal.env['GUARDBAND_STACK'] === undefined ? undefined : error instanceof Error ? error.stack : undefined
    terminal.err(`Something went wrong that this program did not foresee: ${error instanceof Error ? error.message : String(error)}`)
    terminal.err(insides ?? 'Set GUARDBAND_STACK=1 to see where.')
  }
}

/** EX_SOFTWARE of sysexits.h: tells our own faults from a person's input. */
const UNFORESEEN = 70

/** Files of a person's that can't be read or written are no fault of ours. */
function fileSentence(error: unknown): string | undefined {
  if (!(error instanceof Error && 'code' in error && 'path' in error)) return undefined
  const said = FILE_ERRORS[String(error.code)]
  return said === undefined ? undefined : `${String(error.path)}: ${said}`
}

const NO_RIGHT = 'you have no right to read or write it. Check its rights.'

/** By what systems answer (errno, POSIX.1). */
const FILE_ERRORS: Readonly<Record<string, string>> = {
  EACCES: NO_RIGHT, EPERM: NO_RIGHT, EROFS: 'the disk is read-only. Copy the folder to one that is not.', ENOSPC: 'the disk is full. Make room and repeat it.',
}
