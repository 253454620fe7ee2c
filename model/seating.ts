// What sits where: the assembly of a rig that holds now, the mounting of its cooler, and the changes that put another sample into a slot.
import type { ChangeItem } from './change.ts'
import type { Assembly, Mount, Slot } from './records/parts.ts'

/** Slots under the cooler: who changes what sits there takes the cooler off. */
export const UNDER_COOLER: ReadonlySet<Slot> = new Set<Slot>(['processor', 'board', 'cooler'])

export interface Seat {
  readonly slot: Slot
  readonly position?: string | undefined
}

/** The last assembly of a rig; of two since one moment, the one made last. */
export function assemblyNow(assemblies: readonly Assembly[], rigId: string): Assembly | undefined {
  return ofRig(assemblies, rigId).at(-1)
}

/** The mounting that holds on a rig now; undefined where none was recorded since what is under the cooler last changed. */
export function mountNow(assemblies: readonly Assembly[], mounts: readonly Mount[], rigId: string): Mount | undefined {
  const row = ofRig(assemblies, rigId)
  let same = new Set<string>()
  for (const assembly of row.toReversed()) {
    if (same.size > 0 && underCooler(assembly) !== underCooler(row.at(-1))) break
    same = same.add(assembly.id)
  }
  return mounts.filter(({ assemblyId }) => same.has(assemblyId)).toSorted((a, b) => Date.parse(a.at) - Date.parse(b.at) || (a.id < b.id ? -1 : 1)).at(-1)
}

/** The assembly in which a sample sits now. */
export function seatNow(assemblies: readonly Assembly[], sampleId: string): Assembly | undefined {
  for (const rigId of new Set(assemblies.map((assembly) => assembly.rigId))) {
    const now = assemblyNow(assemblies, rigId)
    if (now?.slots.some((slot) => slot.sampleId === sampleId) === true) return now
  }
  return undefined
}

/**
 * The changes that put `sampleId` (or nothing) into a slot of a rig from `since` on: an assembly of its own for the rig, and one for the rig that it is taken out of.
 * What sits in the other slots stays. The caller has asked whether the sample may be put in.
 */
export function changeSlot(change: {
  readonly rigId: string
  readonly seat: Seat
  readonly sampleId: string | null
  readonly since: string
  readonly assemblies: readonly Assembly[]
  readonly newId: () => string
}): readonly ChangeItem[] {
  const { rigId, seat, sampleId, since, assemblies, newId } = change
  const now = assemblyNow(assemblies, rigId)
  const others = (now?.slots ?? []).filter((slot) => !isSeat(slot, seat) && slot.sampleId !== sampleId)
  const put = sampleId === null ? [] : [{ slot: seat.slot, ...(seat.position === undefined || seat.position === '' ? {} : { position: seat.position }), sampleId }]
  const place = (now?.slots ?? []).findIndex((slot) => isSeat(slot, seat))
  const slots = place === -1 ? [...others, ...put] : [...others.slice(0, place), ...put, ...others.slice(place)]
  const elsewhere = sampleId === null ? undefined : seatNow(assemblies, sampleId)
  return [
    { before: null, after: { kind: 'assembly', id: newId(), rigId, since, slots } },
    ...(elsewhere === undefined || elsewhere.rigId === rigId
      ? []
      : [{ before: null, after: { kind: 'assembly' as const, id: newId(), rigId: elsewhere.rigId, since, slots: elsewhere.slots.filter((slot) => slot.sampleId !== sampleId) } }]),
  ]
}

/** What a new assembly changes against the one before it on its rig: samples that went, and that came. */
export function seatChanges(before: Assembly | undefined, after: Assembly): { readonly out: Assembly['slots']; readonly in: Assembly['slots'] } {
  const [had, has] = [new Set(before?.slots.map(key)), new Set(after.slots.map(key))]
  return { out: (before?.slots ?? []).filter((slot) => !has.has(key(slot))), in: after.slots.filter((slot) => !had.has(key(slot))) }
}

function key(slot: Assembly['slots'][number]): string {
  return `${slot.slot}|${slot.position ?? ''}|${slot.sampleId}`
}

function isSeat(slot: Assembly['slots'][number], seat: Seat): boolean {
  return slot.slot === seat.slot && (slot.position ?? '') === (seat.position ?? '')
}

function ofRig(assemblies: readonly Assembly[], rigId: string): readonly Assembly[] {
  return assemblies.filter((assembly) => assembly.rigId === rigId).toSorted((a, b) => Date.parse(a.since) - Date.parse(b.since) || (a.id < b.id ? -1 : 1))
}

function underCooler(assembly: Assembly | undefined): string {
  return (assembly?.slots ?? []).flatMap((slot) => (UNDER_COOLER.has(slot.slot) ? [key(slot)] : [])).toSorted().join(' ')
}
