// The machine under test, as a port: the one that this program runs on, or one beside it that runs nothing of ours.
import type { StartHow } from '@guardband/model'

export interface Machine {
  /** Its boot now; null when it doesn't answer. */
  readonly boot: () => Promise<string | null>
  /** After a run that didn't end well: what became of the machine since that boot. Where it hangs it is brought back by the plan's approved commands. */
  readonly afterTrouble: (before: string) => Promise<MachineAfter>
  /** Absent where only a person can power it. */
  readonly power?: MachinePower
}

export interface MachinePower {
  readonly can: (how: StartHow) => boolean
  /** Brings it up in that way, out of that boot; its new one, null when it doesn't come back or the command failed. */
  readonly up: (how: StartHow, before: string) => Promise<string | null>
}

export type MachineAfter =
  | { readonly kind: 'same' }
  | { readonly kind: 'restarted'; readonly boot: string }
  /** It stood still. `boot` is that after it came back, null when it didn't; `told` says what was done, a sentence each. */
  | { readonly kind: 'hung'; readonly boot: string | null; readonly told: readonly string[] }

/** The machine that this program runs on: were it to restart, the program would be gone. */
export function ownMachine(bootId: string): Machine {
  return { boot: async () => bootId, afterTrouble: async () => ({ kind: 'same' }) }
}
