// A sheet worked off by hand: how far it is, what comes next, and the records that each thing entered adds. Grid and phone both go by it.
import type { ChangeItem } from './change.ts'
import { SpokenError } from './errors.ts'
import type { Known } from './records/base.ts'
import type { LabRecord } from './records/index.ts'
import type { Assembly, Mount } from './records/parts.ts'
import type { Outcome, Run } from './records/run.ts'
import type { Sheet, SheetStart } from './records/sheet.ts'
import type { Conditions, Start } from './records/start.ts'
import type { InForce } from './records/tune.ts'

export type SheetStartState = 'to do' | 'begun' | 'done' | 'left out'

export interface SheetStartProgress {
  readonly planned: SheetStart
  readonly start: Start | undefined
  readonly state: SheetStartState
  /** Runs of the sheet's workloads, at most `repeats` of each. */
  readonly done: number
  readonly of: number
}

export interface SheetProgress {
  readonly starts: readonly SheetStartProgress[]
  /** `repeat` counts from 1. Null when every start is done or left out. */
  readonly next: { readonly planned: SheetStart; readonly workloadId: string; readonly repeat: number } | null
}

/** What a sheet's entries build upon. `assemblies` and `mounts` may be those of all rigs. */
export interface SheetRecords {
  readonly starts: readonly Start[]
  readonly inForce: readonly InForce[]
  readonly runs: readonly Run[]
  readonly assemblies: readonly Assembly[]
  readonly mounts: readonly Mount[]
}

/**
 * How far a sheet is. A start that did not come up as asked is done, whatever runs it lacks. Next is the start begun last that lacks runs, else the
 * first to do, and in it the first workload that lacks the lowest repeat.
 */
export function sheetProgress(sheet: Sheet, records: Pick<SheetRecords, 'starts' | 'runs'>): SheetProgress {
  const made = new Map(records.starts.map((start) => [start.id, start]))
  const runsOf = Map.groupBy(records.runs, (run) => run.startId)
  const starts = sheet.starts.map((planned): SheetStartProgress => {
    const start = made.get(planned.startId)
    const done = countsOf(sheet, runsOf.get(planned.startId) ?? []).reduce((sum, count) => sum + Math.min(count, sheet.repeats), 0)
    const of = sheet.workloadIds.length * sheet.repeats
    return { planned, start, state: stateOf(planned, start, done === of), done, of }
  })
  const begun = starts.filter(({ state }) => state === 'begun').toSorted((a, b) => compareBegun(a.start, b.start)).at(-1)
  const open = begun ?? starts.find(({ state }) => state === 'to do')
  if (open === undefined) return { starts, next: null }
  const counts = countsOf(sheet, runsOf.get(open.planned.startId) ?? [])
  const lowest = Math.min(...counts)
  return { starts, next: { planned: open.planned, workloadId: sheet.workloadIds[counts.indexOf(lowest)], repeat: lowest + 1 } }
}

/** A start's runs of one workload, in the order in which they ran: the place in the list is the repeat. */
export function repeatsOf(runs: readonly Run[], startId: string, workloadId: string): readonly Run[] {
  return runs.filter((run) => run.startId === startId && run.workloadId === workloadId).toSorted(byOrder)
}

/** What was in force in a start, in the order in which it came into force. */
export function inForceOf(inForce: readonly InForce[], startId: string): readonly InForce[] {
  return inForce.filter((record) => record.startId === startId).toSorted((a, b) => momentOf(a.from) - momentOf(b.from) || compare(a.id, b.id))
}

/** The conditions that a start gets unless somebody says otherwise: those of the start begun last, else the sheet's. */
export function conditionsAhead(sheet: Sheet, starts: readonly Start[]): Conditions {
  const own = new Set(sheet.starts.map(({ startId }) => startId))
  return starts.filter(({ id }) => own.has(id)).toSorted(compareBegun).at(-1)?.conditions ?? sheet.conditions
}

/** What sits on the rig now, the last assembly made there. */
export function assemblyNow(rigId: string, assemblies: readonly Assembly[]): Assembly | undefined {
  return assemblies.filter((assembly) => assembly.rigId === rigId).toSorted(bySince).at(-1)
}

/** Slots of a planned start in which something else sits now, or nothing. */
export function slotsToSwap(planned: SheetStart, now: Assembly | undefined): SheetStart['slots'] {
  return planned.slots.filter((slot) => now?.slots.some((held) => samePlace(held, slot) && held.sampleId === slot.sampleId) !== true)
}

/** One thing that a person enters at a sheet. */
export type SheetEntry =
  | { readonly what: 'begin'; readonly startId: string; readonly known: Known; readonly conditions?: Conditions }
  | { readonly what: 'start failed'; readonly startId: string; readonly result: Exclude<Start['result'], 'started'> }
  /** Begins the start where nobody had. */
  | { readonly what: 'run'; readonly startId: string; readonly workloadId: string; readonly outcome: Outcome; readonly measures: Run['measures']; readonly phase?: NonNullable<Run['phase']>; readonly place?: string }
  | { readonly what: 'correct run'; readonly runId: string; readonly outcome: Outcome; readonly measures: Run['measures']; readonly phase?: NonNullable<Run['phase']>; readonly place?: string }
  /** From now on within the start; without a tune, what is in force matches none. */
  | { readonly what: 'in force changed'; readonly startId: string; readonly tuneId?: string; readonly known: Known }
  /** How sure it is that what holds now holds. */
  | { readonly what: 'known'; readonly startId: string; readonly known: Known }
  /** The cooler came off and went on again. */
  | { readonly what: 'remount'; readonly startId: string }
  | { readonly what: 'conditions'; readonly startId: string; readonly conditions: Conditions }
  | { readonly what: 'training'; readonly startId: string; readonly training: NonNullable<Start['training']> }
  | { readonly what: 'note'; readonly recordId: string; readonly note: string }

export interface EntrySources {
  readonly newId: () => string
  /** Milliseconds since 1970. */
  readonly now: () => number
}

/** The change that an entry makes. Throws a SpokenError where what is held speaks against it. */
export function entryRecords(sheet: Sheet, records: SheetRecords, entry: SheetEntry, sources: EntrySources): readonly ChangeItem[] {
  const at = new Date(sources.now()).toISOString()
  switch (entry.what) {
    case 'begin':
      return begin(sheet, records, entry, sources)
    case 'run': {
      const begun = findStart(records, entry.startId) === undefined ? begin(sheet, records, { what: 'begin', startId: entry.startId, known: 'unverified' }, sources) : []
      const held = withItems(records, begun)
      const start = requireStart(held, entry.startId)
      if (start.result === 'no start' || start.result === 'system fails to load') {
        throw new SpokenError({ code: 'start-failed', message: `this start ended with "${start.result}", so nothing can have run in it.`, mend: 'Take that back first.' })
      }
      const inForce = inForceOf(held.inForce, start.id).at(-1)
      const after: LabRecord[] = inForce === undefined ? [newInForce(sources.newId(), start.id, start.result === 'started' ? start.tuneId : undefined, 'unverified')] : []
      const inForceId = inForce?.id ?? after[0].id
      const order = Math.max(-1, ...held.runs.filter((run) => run.startId === start.id).map((run) => run.order)) + 1
      const { outcome, measures, workloadId } = entry
      after.push({ kind: 'run', id: sources.newId(), startId: start.id, inForceId, workloadId, order, at, outcome, ...failureOf(entry), measures: [...measures] })
      return [...begun, ...added(after)]
    }
    case 'correct run': {
      const before = requireRun(records, entry.runId)
      const { phase: _phase, place: _place, ...rest } = before
      return [{ before, after: { ...rest, outcome: entry.outcome, ...failureOf(entry), measures: [...entry.measures] } }]
    }
    case 'start failed':
      return failStart(sheet, records, entry, sources)
    case 'in force changed': {
      const start = requireStart(records, entry.startId)
      const last = inForceOf(records.inForce, start.id).at(-1)
      const fresh = { ...newInForce(sources.newId(), start.id, entry.tuneId, entry.known), from: at }
      return [...(last === undefined ? [] : [{ before: last, after: { ...last, to: at } }]), ...added([fresh])]
    }
    case 'known': {
      const begun = findStart(records, entry.startId) === undefined
      if (begun) return begin(sheet, records, { ...entry, what: 'begin' }, sources)
      const last = inForceOf(records.inForce, entry.startId).at(-1)
      return last === undefined ? added([newInForce(sources.newId(), entry.startId, requireStart(records, entry.startId).tuneId, entry.known)]) : [{ before: last, after: { ...last, known: entry.known } }]
    }
    case 'remount':
      return remount(sheet, records, entry.startId, { at, newId: sources.newId })
    case 'conditions': {
      const start = findStart(records, entry.startId)
      if (start === undefined) return begin(sheet, records, { ...entry, what: 'begin', known: 'unverified' }, sources)
      return [{ before: start, after: { ...start, conditions: entry.conditions } }]
    }
    case 'training': {
      const start = findStart(records, entry.startId)
      // A fallback is never booked under the tune.
      if (entry.training.result === 'fallback') return withTraining(failStart(sheet, records, { what: 'start failed', startId: entry.startId, result: 'fallback start' }, sources), entry.training)
      if (start === undefined) return withTraining(begin(sheet, records, { what: 'begin', startId: entry.startId, known: 'unverified' }, sources), entry.training)
      return [{ before: start, after: { ...start, training: entry.training } }]
    }
    case 'note': {
      const before = [...records.runs, ...records.starts].find(({ id }) => id === entry.recordId)
      if (before === undefined) throw missing('record', entry.recordId)
      const { note: _note, ...rest } = before
      return [{ before, after: entry.note === '' ? rest : { ...rest, note: entry.note } }]
    }
  }
}

/** The records after a change's items; what the change did not touch stays as it is. */
export function withItems(records: SheetRecords, items: readonly ChangeItem[]): SheetRecords {
  if (items.length === 0) return records
  return {
    starts: merged(records.starts, items, 'start'),
    inForce: merged(records.inForce, items, 'in force'),
    runs: merged(records.runs, items, 'run'),
    assemblies: merged(records.assemblies, items, 'assembly'),
    mounts: merged(records.mounts, items, 'mount'),
  }
}

function merged<Kind extends LabRecord['kind']>(held: readonly Extract<LabRecord, { kind: Kind }>[], items: readonly ChangeItem[], kind: Kind): readonly Extract<LabRecord, { kind: Kind }>[] {
  type Wanted = Extract<LabRecord, { kind: Kind }>
  const touched = items.filter((item) => (item.after ?? item.before)?.kind === kind)
  if (touched.length === 0) return held
  const byId = new Map(held.map((record) => [record.id, record]))
  for (const { before, after } of touched) {
    if (before !== null) byId.delete(before.id)
    // Only items of this kind are left.
    if (after !== null) byId.set(after.id, after as Wanted)
  }
  return [...byId.values()]
}

function begin(sheet: Sheet, records: SheetRecords, entry: Extract<SheetEntry, { what: 'begin' }>, { newId, now }: EntrySources): readonly ChangeItem[] {
  const planned = sheet.starts.find(({ startId }) => startId === entry.startId)
  if (planned === undefined) throw missing('start on this sheet', entry.startId)
  if (findStart(records, entry.startId) !== undefined) throw new SpokenError({ code: 'begun-already', message: 'this start was begun already.' })
  const at = new Date(now()).toISOString()
  const { assembly, mount, made } = seat(sheet, planned, records, { at, newId })
  const start: Start = {
    kind: 'start', id: planned.startId, rigId: sheet.rigId, assemblyId: assembly.id, ...(mount === undefined ? {} : { mountId: mount.id }), tuneId: planned.tuneId, at,
    how: planned.how, result: 'started', conditions: entry.conditions ?? conditionsAhead(sheet, records.starts), source: SOURCE,
  }
  return added([...made, start, newInForce(newId(), start.id, planned.tuneId, entry.known)])
}

interface Seat {
  readonly assembly: Assembly
  readonly mount: Mount | undefined
  /** Of the two, those that are new. */
  readonly made: readonly LabRecord[]
}

/** What the start sits in: as it is when all is in place; else a new assembly, and a new mount where something under the cooler was changed. */
function seat(sheet: Sheet, planned: SheetStart, records: SheetRecords, { at, newId }: { readonly at: string; readonly newId: () => string }): Seat {
  const now = assemblyNow(sheet.rigId, records.assemblies)
  const swaps = slotsToSwap(planned, now)
  const last = lastMount(sheet.rigId, records)
  if (now !== undefined && swaps.length === 0) return { assembly: now, mount: last, made: [] }
  const kept = (now?.slots ?? []).filter((held) => !swaps.some((slot) => samePlace(held, slot)))
  const assembly: Assembly = { kind: 'assembly', id: newId(), rigId: sheet.rigId, since: at, slots: [...swaps, ...kept] }
  if (!swaps.some(({ slot }) => UNDER_COOLER.has(slot))) return { assembly, mount: last, made: [assembly] }
  const mount = newMount(newId(), assembly.id, at, last)
  return { assembly, mount, made: [assembly, mount] }
}

function remount(sheet: Sheet, records: SheetRecords, startId: string, { at, newId }: { readonly at: string; readonly newId: () => string }): readonly ChangeItem[] {
  const start = findStart(records, startId)
  const planned = sheet.starts.find((candidate) => candidate.startId === startId)
  const assembly = assemblyNow(sheet.rigId, records.assemblies)
  const swaps = start === undefined && planned !== undefined ? slotsToSwap(planned, assembly) : []
  if (assembly === undefined || swaps.some(({ slot }) => UNDER_COOLER.has(slot))) {
    throw new SpokenError({ code: 'remount-with-swap', message: 'what must be put in for this start has the cooler off anyway; beginning the start records the new mount.' })
  }
  const mount = newMount(newId(), assembly.id, at, lastMount(sheet.rigId, records))
  // Runs that were made before can't have been made on the new mount.
  const moves = start !== undefined && start.assemblyId === assembly.id && !records.runs.some((run) => run.startId === start.id)
  return [...added([mount]), ...(moves ? [{ before: start, after: { ...start, mountId: mount.id } }] : [])]
}

/** The mount that still holds: none, when something under the cooler was changed since without one being recorded. */
function lastMount(rigId: string, { assemblies, mounts }: SheetRecords): Mount | undefined {
  const onRig = assemblies.filter((assembly) => assembly.rigId === rigId).toSorted(bySince)
  const places = new Map(onRig.map((assembly, place) => [assembly.id, place]))
  const mount = mounts.filter(({ assemblyId }) => places.has(assemblyId)).toSorted((a, b) => momentOf(a.at) - momentOf(b.at) || compare(a.id, b.id)).at(-1)
  if (mount === undefined) return undefined
  const since = onRig.slice(places.get(mount.assemblyId))
  return new Set(since.map(underCooler)).size === 1 ? mount : undefined
}

function failStart(sheet: Sheet, records: SheetRecords, { startId, result }: Extract<SheetEntry, { what: 'start failed' }>, sources: EntrySources): readonly ChangeItem[] {
  const begun = findStart(records, startId) === undefined ? begin(sheet, records, { what: 'begin', startId, known: 'unverified' }, sources) : []
  const held = withItems(records, begun)
  const start = requireStart(held, startId)
  const hasRuns = held.runs.some((run) => run.startId === startId)
  if (result !== 'fallback start' && hasRuns) throw new SpokenError({ code: 'start-has-runs', message: `this start has runs, so it can't have ended with "${result}".`, mend: 'Take the runs back first, or enter how each of them ended.' })
  const fallback = result === 'fallback start'
  const startAfter: Start = { ...start, result, ...(fallback ? { training: { ...start.training, result: 'fallback' } } : {}) }
  const items = begun.filter(({ after }) => after?.kind !== 'start' && after?.kind !== 'in force')
  items.push({ before: findStart(records, startId) ?? null, after: startAfter })
  for (const inForce of inForceOf(held.inForce, startId)) {
    const before = records.inForce.find(({ id }) => id === inForce.id) ?? null
    const { tuneId: _tune, ...rest } = inForce
    // At fallback nothing that was asked for held; without a start nothing held at all.
    if (fallback) items.push({ before, after: { ...rest, known: 'seen by a person' } })
    else if (before !== null) items.push({ before, after: null })
  }
  return items
}

function withTraining(items: readonly ChangeItem[], training: NonNullable<Start['training']>): readonly ChangeItem[] {
  return items.map((item) => (item.after?.kind === 'start' ? { ...item, after: { ...item.after, training } } : item))
}

function newInForce(id: string, startId: string, tuneId: string | undefined, known: Known): InForce {
  return { kind: 'in force', id, startId, ...(tuneId === undefined ? {} : { tuneId }), known, settings: [] }
}

/** Mounted as the time before, as far as anybody has said. */
function newMount(id: string, assemblyId: string, at: string, { paste, torque, frame, lid }: Partial<Mount> = {}): Mount {
  return {
    kind: 'mount', id, assemblyId, at,
    ...(paste === undefined ? {} : { paste }), ...(torque === undefined ? {} : { torque }), ...(frame === undefined ? {} : { frame }), ...(lid === undefined ? {} : { lid }),
  }
}

function stateOf(planned: SheetStart, start: Start | undefined, complete: boolean): SheetStartState {
  if (planned.skipped !== undefined) return 'left out'
  if (start === undefined) return 'to do'
  return complete || start.result !== 'started' ? 'done' : 'begun'
}

function countsOf(sheet: Sheet, runs: readonly Run[]): readonly number[] {
  return sheet.workloadIds.map((id) => runs.filter(({ workloadId }) => workloadId === id).length)
}

function failureOf({ phase, place }: { readonly phase?: NonNullable<Run['phase']>; readonly place?: string }): Pick<Run, 'phase' | 'place'> {
  return { ...(phase === undefined ? {} : { phase }), ...(place === undefined || place === '' ? {} : { place }) }
}

function findStart({ starts }: Pick<SheetRecords, 'starts'>, id: string): Start | undefined {
  return starts.find((start) => start.id === id)
}

function requireStart(records: SheetRecords, id: string): Start {
  const start = findStart(records, id)
  if (start === undefined) throw new SpokenError({ code: 'not-begun', message: 'this start has not begun.', mend: 'Begin it first.' })
  return start
}

function requireRun(records: SheetRecords, id: string): Run {
  const run = records.runs.find((candidate) => candidate.id === id)
  if (run === undefined) throw missing('run', id)
  return run
}

function missing(what: string, id: string): SpokenError {
  return new SpokenError({ code: 'not-there', message: `there is no ${what} ${id}.`, mend: 'Load the page again.' })
}

function added(records: readonly LabRecord[]): readonly ChangeItem[] {
  return records.map((after) => ({ before: null, after }))
}

/** Exchanging one of these takes the cooler off. */
const UNDER_COOLER: ReadonlySet<string> = new Set(['processor', 'cooler', 'board'])

function underCooler({ slots }: Assembly): string {
  return slots.filter(({ slot }) => UNDER_COOLER.has(slot)).map(({ slot, position, sampleId }) => `${slot} ${position ?? ''} ${sampleId}`).toSorted().join('\n')
}

function samePlace(a: { readonly slot: string; readonly position?: string | undefined }, b: { readonly slot: string; readonly position?: string | undefined }): boolean {
  return a.slot === b.slot && (a.position ?? '') === (b.position ?? '')
}

function byOrder(a: Run, b: Run): number {
  return a.order - b.order || compare(a.id, b.id)
}

function bySince(a: Assembly, b: Assembly): number {
  return momentOf(a.since) - momentOf(b.since) || compare(a.id, b.id)
}

function compareBegun(a: Start | undefined, b: Start | undefined): number {
  return momentOf(a?.at) - momentOf(b?.at) || compare(a?.id ?? '', b?.id ?? '')
}

function momentOf(at: string | undefined): number {
  return at === undefined ? 0 : Date.parse(at)
}

function compare(a: string, b: string): number {
  return a < b ? -1 : a > b ? 1 : 0
}

/** What `source` says of records that came from a sheet. */
const SOURCE = 'entered'
