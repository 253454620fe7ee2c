// What the phone knows of the lab: the hub's last word, with what was entered since laid over it.
import type { BenchState } from '@guardband/model/api/phone'
import type { ChangeItem } from '@guardband/model/change'
import { withItems, type SheetRecords } from '@guardband/model/sheet'
import type { Message } from './outbox.ts'

/** The records after all that waits; what is entered next builds upon them. */
export function recordsAfter(state: BenchState, waiting: readonly Message[]): SheetRecords {
  return waiting.reduce((records, message) => withItems(records, itemsOf(message)), recordsOf(state))
}

/** The hub has it on disk: from now on it is a part of its word. */
export function withSaved(state: BenchState, message: Message): BenchState {
  const { starts, inForce, runs, assemblies, mounts } = withItems(recordsOf(state), itemsOf(message))
  return { ...state, starts: [...starts], inForce: [...inForce], runs: [...runs], assemblies: [...assemblies], mounts: [...mounts] }
}

function recordsOf({ starts, inForce, runs, assemblies, mounts }: BenchState): SheetRecords {
  return { starts, inForce, runs, assemblies, mounts }
}

function itemsOf(message: Message): readonly ChangeItem[] {
  if (message.kind === 'picture') return []
  if (message.kind === 'entry') return message.items
  return message.items.toReversed().map(({ before, after }) => ({ before: after, after: before }))
}
