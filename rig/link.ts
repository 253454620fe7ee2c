// What a rig has behind it while it works, as a port: a hub, a companion, or nothing. None of it may ever hold a plan up or bring it down.
import type { LiveState, Outcome } from '@guardband/model'

export interface Link {
  /** Pushes what this journal holds so far to the second place; waits no longer than a few seconds, never throws. */
  readonly mirror: (journalPath: string) => Promise<'held' | 'not reached' | 'none'>
  /** What a companion saw of the rig since that journal's last heartbeat, oldest first; empty where nobody watched or nobody answers. */
  readonly seen: (journal: string) => Promise<readonly Seen[]>
  /** How this machine's clock stands to another's, best known; null where nothing was measured. */
  readonly clock: () => { readonly against: string; readonly offset: number; readonly within: number } | null
  readonly live: LiveReporter
  readonly close: () => Promise<void>
}

export interface Seen {
  readonly at: string
  /** silence, action, heard again, POST code, note */
  readonly what: string
  readonly text: string
}

/** Hears what a session is at; keeps it for whoever looks. */
export interface LiveReporter {
  readonly at: (step: Omit<NonNullable<LiveState['step']>, 'since'> | null) => void
  readonly ended: (line: { readonly text: string; readonly outcome: Outcome | null }) => void
  readonly turned: (state: LiveState['state'], message: string | null) => void
  readonly counted: (counts: { readonly done: number; readonly left: number; readonly minutesLeft: number | null }) => void
  readonly journal: (id: string | null) => void
}

/** A rig that works alone. */
export const noLink: Link = {
  mirror: async () => 'none',
  seen: async () => [],
  clock: () => null,
  live: { at: () => {}, ended: () => {}, turned: () => {}, counted: () => {}, journal: () => {} },
  close: async () => {},
}
