// Turns what a person tapped into the message that is kept and sent.
import type { BenchState } from '@guardband/model/api/phone'
import { LONGEST_WHAT } from '@guardband/model/change-limits'
import { entryRecords, type SheetEntry, type SheetRecords } from '@guardband/model/sheet'
import type { Sheet } from '@guardband/model/records/sheet'
import { newId } from '../hub/new-id.ts'
import type { Message } from './outbox.ts'

/** Enters something; `what` stands in the change log. `seconds` is how long the run took by the clock. */
export type Enter = (entry: SheetEntry, what: string, seconds?: number | null) => void

export function entering({ state, sheet, records }: { readonly state: BenchState; readonly sheet: Sheet; readonly records: SheetRecords }, entry: SheetEntry, what: string, seconds?: number | null): Message {
  const items = entryRecords(sheet, records, entry, { newId, now: () => Date.now() }).map((item) =>
    seconds === undefined || seconds === null || item.after?.kind !== 'run' || item.before !== null ? item : { ...item, after: { ...item.after, exposure: { seconds: Math.round(seconds * 10) / 10 } } },
  )
  return { kind: 'entry', request: newId(), labId: state.labId, what: what.slice(0, LONGEST_WHAT), items }
}
