// What happened on a rig, newest first: assemblies, mounts, and starts in a row told as one.
import type { RigRow, RigWhole } from '@guardband/model/api'
import type { Mount } from '@guardband/model/records/parts'
import { seatChanges } from '@guardband/model/seating'

export interface SlotName {
  readonly slot: string
  readonly name: string
}

export type RigEvent =
  | { readonly what: 'assembly'; readonly id: string; readonly at: string; readonly first: boolean; readonly out: readonly SlotName[]; readonly in: readonly SlotName[] }
  | { readonly what: 'mount'; readonly id: string; readonly at: string; readonly mount: Mount }
  | { readonly what: 'starts'; readonly id: string; readonly at: string; readonly from: string; readonly starts: number; readonly runs: number; readonly failed: number; readonly notUp: number; readonly label: string }

/** Starts without a time can't be placed among the others and are left out; the page says how many. */
export function rigEvents(row: RigRow, starts: RigWhole['starts']): readonly RigEvent[] {
  const rows = row.assemblies.toSorted((a, b) => Date.parse(a.assembly.since) - Date.parse(b.assembly.since))
  const assemblies = rows.map(({ assembly, slots }, place): RigEvent => {
    const before = rows[place - 1]
    const changes = seatChanges(before?.assembly, assembly)
    return {
      what: 'assembly', id: assembly.id, at: assembly.since, first: before === undefined,
      out: changes.out.map((slot) => nameOf(slot, before?.assembly.slots ?? [], before?.slots ?? [])),
      in: changes.in.map((slot) => nameOf(slot, assembly.slots, slots)),
    }
  })
  const mounts = rows.flatMap(({ mounts: of }) => of.map((mount): RigEvent => ({ what: 'mount', id: mount.id, at: mount.at, mount })))
  const begun = starts.flatMap((start): readonly RigEvent[] => {
    const { at } = start
    return at === null ? [] : [{ what: 'starts', id: start.id, at, from: at, starts: 1, runs: start.runs, failed: start.failed, notUp: start.result === 'started' ? 0 : 1, label: start.label }]
  })
  const events = [...assemblies, ...mounts, ...begun].toSorted((a, b) => Date.parse(b.at) - Date.parse(a.at) || ORDER[a.what] - ORDER[b.what])
  return events.reduce<RigEvent[]>((told, event) => {
    const last = told.at(-1)
    if (event.what !== 'starts' || last?.what !== 'starts' || dayOf(last.at) !== dayOf(event.at)) return [...told, event]
    const joined: RigEvent = { ...last, from: event.at, starts: last.starts + 1, runs: last.runs + event.runs, failed: last.failed + event.failed, notUp: last.notUp + event.notUp }
    return [...told.slice(0, -1), joined]
  }, [])
}

/** What a start ran on stands below it when both are of one moment. */
const ORDER: Readonly<Record<RigEvent['what'], number>> = { starts: 0, mount: 1, assembly: 2 }

function dayOf(at: string): string {
  return new Date(at).toDateString()
}

interface Slot {
  readonly slot: string
  readonly position?: string | undefined
  readonly sampleId: string
}

/** The hub names an assembly's slots in the order of its record. */
function nameOf(wanted: Slot, slots: readonly Slot[], names: readonly { readonly part: string; readonly sample: string }[]): SlotName {
  const place = slots.findIndex((slot) => slot.sampleId === wanted.sampleId && slot.slot === wanted.slot)
  const name = names[place]
  return { slot: wanted.position === undefined ? wanted.slot : `${wanted.slot} ${wanted.position}`, name: name === undefined ? 'a sample that is gone' : name.sample === name.part ? name.part : `${name.part} ${name.sample}` }
}
