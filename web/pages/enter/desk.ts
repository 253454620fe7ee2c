// What stands on a sheet as the page shows it: what the hub has on disk, and on top of it what is still on its way there.
import type { SheetWhole } from '@guardband/model/api/sheets'
import type { ChangeItem } from '@guardband/model/change'
import { LONGEST_WHAT } from '@guardband/model/change-limits'
import type { Sheet } from '@guardband/model/records/sheet'
import { entryRecords, withItems, type SheetEntry, type SheetRecords } from '@guardband/model/sheet'
import { entryWhat, type SheetNames } from '@guardband/model/sheet-words'
import type { Outbox, OutboxEntry, OutboxEvent } from '../../hub/outbox.ts'

export interface DeskState {
  readonly sheet: Sheet
  readonly records: SheetRecords
  /** Of this sheet, not yet on the hub's disk. */
  readonly entries: readonly OutboxEntry[]
  readonly trouble: string | null
  /** Entries that can be taken back, the last one last. */
  readonly made: readonly Made[]
}

export interface Made {
  readonly request: string
  readonly what: string
  readonly items: readonly ChangeItem[]
}

export interface DeskNeeds {
  readonly whole: SheetWhole
  readonly outbox: Outbox
  /** As they are when something is entered. */
  readonly names: () => SheetNames
  readonly newId: () => string
  readonly now: () => number
  /** The sheet anew from the hub. */
  readonly read: () => Promise<SheetWhole>
  /** Keeps what can be taken back over a reload. */
  readonly keepMade: (made: readonly Made[]) => void
  readonly made: readonly Made[]
}

export interface Desk {
  readonly state: () => DeskState
  readonly listen: (listener: () => void) => () => void
  /** Throws a SpokenError where what stands on the sheet speaks against it. Returns the sentence that says what was entered. */
  readonly enter: (entry: SheetEntry) => string
  /** A change of the sheet itself. */
  readonly changeSheet: (what: string, after: Sheet) => void
  /** Takes the last entry back; null where there is none. */
  readonly takeBack: () => Made | null
  readonly retry: (request: string) => void
  readonly drop: (request: string) => void
  /** The lab is at this change now: what somebody else changed is read anew. */
  readonly lookAt: (head: number) => void
  /** Begins to hear what becomes of entries; what it returns ends that. */
  readonly open: () => () => void
}

export function createDesk({ whole, outbox, names, newId, now, read, keepMade, made: madeBefore }: DeskNeeds): Desk {
  const about = whole.sheet.id
  const listeners = new Set<() => void>()
  let base: Stand = standOf(whole)
  let seen = whole.head
  let labHead = whole.head
  let saves = 0
  let reading = false
  let made = madeBefore
  let state = view()

  function view(): DeskState {
    const entries = outbox.entries().filter((entry) => entry.about === about)
    // What could not be taken back still stands.
    const shown = entries.filter(({ act, state: of }) => act.kind === 'change' || of === 'waiting').reduce((stand, { act }) => apply(stand, act.items), base)
    return { ...shown, entries, trouble: outbox.trouble(), made }
  }

  function show(): void {
    state = view()
    for (const listener of listeners) listener()
  }

  const hear = (event: OutboxEvent): void => {
    if (event.type === 'saved' && event.entry.about === about) {
      base = apply(base, event.entry.act.items)
      saves += 1
      if (event.change === seen + 1) seen = event.change
      // Another tab sent it, or gave it up, or it was taken back meanwhile: the hub knows.
      if (event.change === undefined || event.change === 0) void readAnew()
    }
    show()
    readWhenQuiet()
  }

  /** A reply that was on its way while something was saved may lack it, so it is asked for again. */
  async function readAnew(): Promise<void> {
    if (reading) return
    reading = true
    let heard = true
    try {
      for (;;) {
        const before = saves
        const fresh = await read()
        if (saves !== before) continue
        base = standOf(fresh)
        seen = fresh.head
        break
      }
    } catch {
      // The page says when the hub is silent; the next change makes it read again.
      heard = false
    } finally {
      reading = false
    }
    show()
    if (heard) readWhenQuiet()
  }

  function readWhenQuiet(): void {
    if (labHead > seen && !outbox.entries().some((entry) => entry.state === 'waiting')) void readAnew()
  }

  function setMade(next: readonly Made[]): void {
    made = next.slice(-MOST_MADE)
    keepMade(made)
  }

  function send(what: string, items: readonly ChangeItem[]): void {
    const request = newId()
    setMade([...made, { request, what, items }])
    outbox.add({ request, about, act: { kind: 'change', what: what.slice(0, LONGEST_WHAT), items } })
  }

  return {
    state: () => state,
    listen: (listener) => {
      listeners.add(listener)
      return () => listeners.delete(listener)
    },
    enter: (entry) => {
      const items = entryRecords(state.sheet, state.records, entry, { newId, now })
      const what = entryWhat(state.sheet, state.records, entry, names())
      send(what, items)
      return what
    },
    changeSheet: (what, after) => send(what, [{ before: state.sheet, after }]),
    takeBack: () => {
      const last = made.at(-1)
      if (last === undefined) return null
      setMade(made.slice(0, -1))
      const stuck = outbox.entries().find((entry) => entry.request === last.request && entry.state !== 'waiting')
      if (stuck !== undefined) outbox.drop(last.request)
      else {
        const items = last.items.toReversed().map(({ before, after }) => ({ before: after, after: before }))
        outbox.add({ request: newId(), about, act: { kind: 'take back', what: `Take back: ${last.what}`, entry: last.request, items } })
      }
      return last
    },
    retry: (request) => outbox.retry(request),
    drop: (request) => {
      outbox.drop(request)
      const left = new Set(outbox.entries().map((entry) => entry.request))
      const gone = state.entries.filter((entry) => !left.has(entry.request)).map((entry) => entry.request)
      setMade(made.filter((entry) => entry.request !== request && !gone.includes(entry.request)))
      show()
    },
    lookAt: (head) => {
      labHead = Math.max(labHead, head)
      readWhenQuiet()
    },
    open: () => {
      const stop = outbox.listen(hear)
      const left = new Set(outbox.entries().map(({ request }) => request))
      if (state.entries.some(({ request }) => !left.has(request))) void readAnew()
      show()
      return stop
    },
  }
}

interface Stand {
  readonly sheet: Sheet
  readonly records: SheetRecords
}

function standOf({ head: _head, sheet, ...records }: SheetWhole): Stand {
  return { sheet, records }
}

function apply({ sheet, records }: Stand, items: readonly ChangeItem[]): Stand {
  const after = items.find((item) => item.after?.kind === 'sheet' && item.after.id === sheet.id)?.after
  return { sheet: after?.kind === 'sheet' ? after : sheet, records: withItems(records, items) }
}

/** Steps back that are kept. */
const MOST_MADE = 40
