// What went wrong with a command that was to tell something.
import { fixed } from '@guardband/model'
import type { CommandEnd } from './command-driver.ts'

/** Goes on after "its command"; null for one that ended well. */
export function commandFault({ how, exitStatus, signal, seconds, message }: CommandEnd): string | null {
  if (how === 'time limit') return `was ended after ${fixed(seconds, 1)} s`
  if (how === 'not started') return `did not start (${message ?? 'no reason given'})`
  if (exitStatus === 0 && how === 'ended') return null
  return `ended with ${exitStatus === null ? `signal ${signal ?? 'unknown'}` : `status ${exitStatus}`}`
}
