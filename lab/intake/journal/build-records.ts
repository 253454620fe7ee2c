// A journal's records to the workspace's: one start, what was in force in it, its runs, and by name all that its plan speaks of.
import {
  canonicalJson, comparisonOf, convert, planSteps, type InForce, type JournalBodyOf, type JournalEntry, type LabRecord, type Measure, type Plan, type PlanTune, type PlanWorkload, type Rig, type Run, type SmallestGain, type Start, type Tune, type Workload,
} from '@guardband/model'
import { SUITE_OF_ALL, type Draft } from '../draft.ts'
import { bodiesOf, type JournalBook } from './journal-book.ts'
import { noteOf, saidDuringRuns, vouchers } from './who-said.ts'

export interface JournalNames {
  readonly rig: Rig
  readonly assemblyId: string
  readonly tunes: ReadonlyMap<string, Tune>
  readonly workloads: ReadonlyMap<string, Workload>
  readonly plan: Plan
}

export interface BuildContext {
  readonly draft: Draft
  readonly book: JournalBook
  readonly remarks: string[]
  readonly record: (id: string) => LabRecord | undefined
  /** It was there once, and a person took it back: it does not come in again by itself. */
  readonly takenBack: (id: string) => boolean
  /** Of the workspace itself, by which its clock goes. */
  readonly labId: string
}

/** Rig, samples, assembly, tunes, workloads and suite of the plan, found by name or made. */
export function buildNames(open: JournalBodyOf<'open'>, { draft, remarks }: BuildContext): JournalNames {
  const { plan } = open
  const rig = draft.rig(plan.rig)
  const slots = plan.assembly.map((seat) => {
    const part = draft.part(seat.part, seat.slot)
    const sample = draft.sample(part, { label: seat.sample, batch: seat.batch, origin: seat.origin, picked: seat.picked })
    for (const field of ['batch', 'origin', 'picked'] as const) {
      const said = seat[field]
      if (said !== undefined && said !== 'unknown' && said !== sample[field]) {
        remarks.push(`Sample "${sample.label}" has ${field} "${sample[field] ?? ''}" in the workspace; the plan says "${said}". The workspace's stands.`)
      }
    }
    return { slot: seat.slot, sampleId: sample.id }
  })
  const assembly = draft.assembly(rig, slots, open.at)
  const tunes = new Map(plan.tunes.map((tune) => [tune.name, planTune(tune, plan, draft, remarks)]))
  const workloads = new Map(plan.workloads.map((workload) => [workload.name, planWorkload(workload, plan, draft, remarks)]))
  planSuite(plan, workloads, draft)
  planCampaign(plan, tunes, draft)
  draft.extendSuiteOfAll()
  return { rig, assemblyId: assembly.id, tunes, workloads, plan }
}

/**
 * The start, its in-force records and its finished runs, as far as the workspace lacks them. Returns how many runs are new.
 * Not for a file that holds no start (rule 15).
 */
export function buildStart(open: JournalBodyOf<'open'>, entries: readonly JournalEntry[], names: JournalNames, context: BuildContext): number {
  const { draft, remarks } = context
  const begins = bodiesOf(entries, 'begin')
  const recorded = bodiesOf(entries, 'start')[0] ?? plannedStart(open, begins, bodiesOf(entries, 'in force'))
  const started = recorded.result === 'started' && turnedOutFallback(entries) ? { ...recorded, result: 'fallback start' as const } : recorded
  buildOwnStart(startRecord(open, started, names), clockOf(entries, context.labId), context)
  remarks.push(...notRunRemarks(open, entries, started))
  const heldIds = buildInForce(open.startId, entries, names, context)
  // A run is finished once (rule 11): of several ends the first stands.
  const ends = new Map(bodiesOf(entries, 'end').toReversed().map((body) => [body.runId, body]))
  const said = saidDuringRuns(entries)
  let runs = 0
  for (const begin of begins) {
    if (!heldIds.has(begin.inForceId)) {
      heldIds.add(begin.inForceId)
      remarks.push(`Step ${begin.step}: the record of what was in force is not in the journal, so its runs count for no tune.`)
      if (context.record(begin.inForceId) === undefined) draft.put({ kind: 'in force', id: begin.inForceId, startId: open.startId, known: 'unverified', settings: [] })
    }
    const run = finishedRun(begin, { end: ends.get(begin.runId), said: said.get(begin.runId) ?? [] }, open.startId, names, context)
    if (run === undefined) continue
    const stored = context.record(run.id)
    if (stored === undefined && context.takenBack(run.id)) {
      remarks.push(`Run ${run.id}, step ${begin.step}: a person took it back, so it stays out.`)
    } else if (stored === undefined) {
      draft.put(run)
      runs += 1
      // An end stands before a resolved record in the chain (rule 11): a fuller copy of the journal corrects the run that was closed without it.
    } else if (stored.kind === 'run' && ends.has(run.id) && context.book.resolved(run.id) !== undefined && stored.measures.length === 0 && stored.outcome !== run.outcome) {
      draft.put({ ...run, ...(stored.setAside === undefined ? {} : { setAside: stored.setAside }) })
    }
  }
  return runs
}

/** Runs of earlier journals that this one resolves, as far as the workspace lacks them. */
export function buildResolved(entries: readonly JournalEntry[], context: BuildContext & { readonly names: (open: JournalBodyOf<'open'>) => JournalNames }): number {
  let runs = 0
  for (const body of bodiesOf(entries, 'resolved')) {
    if (context.record(body.runId) !== undefined || context.takenBack(body.runId)) continue
    const earlier = context.book.kept(body.journal).entries
    const open = bodiesOf(earlier, 'open')[0]
    const begin = bodiesOf(earlier, 'begin').find((candidate) => candidate.runId === body.runId)
    const ended = bodiesOf(earlier, 'end').some((candidate) => candidate.runId === body.runId)
    if (open === undefined || begin === undefined) {
      context.remarks.push(`Step ${body.step} of journal ${body.journal} is resolved here; it is booked once that journal has been taken in.`)
      continue
    }
    if (ended || context.record(open.startId) === undefined || context.record(begin.inForceId) === undefined) continue
    const run = closedRun(begin, body, open.startId, context.names(open))
    if (run === undefined) continue
    context.draft.put(run)
    runs += 1
  }
  return runs
}

/** Whether the file holds a start: it says so, or runs begun in it prove that the record that said so is damaged (rule 15). */
export function holdsStart(entries: readonly JournalEntry[]): boolean {
  return entries.some(({ body }) => body.type === 'start' || body.type === 'begin')
}

/** Where the start's own record is damaged: what was in force, else what the plan says of the step; it is no proof that the start came about so. */
function plannedStart(open: JournalBodyOf<'open'>, begins: readonly JournalBodyOf<'begin'>[], inForce: readonly JournalBodyOf<'in force'>[]): JournalBodyOf<'start'> {
  const step = planSteps(open.plan).find(({ id }) => id === open.step)
  const planned = step?.kind === 'change' ? step.tune : step?.kind === 'ladder' ? step.tunes[rungOf(begins)] : undefined
  const tune = inForce[0]?.tune ?? planned ?? open.plan.tunes[0].name
  const result = inForce[0]?.tune === null ? 'fallback start' : 'started'
  return { type: 'start', at: open.at, tune, how: step?.kind === 'change' || step?.kind === 'ladder' ? step.start : 'cold', result, conditions: {} }
}

/** From 0, by the ids that a ladder's runs have (rule 17). */
function rungOf(begins: readonly JournalBodyOf<'begin'>[]): number {
  const number = /\/[td](\d+)\/r\d+$/.exec(begins[0]?.step ?? '')?.[1]
  return number === undefined ? 0 : Number(number) - 1
}

/** Runs that the read-back gate kept from running (rule 16), by the tune that was asked for: they are no runs, yet nobody should look for them in vain. */
function notRunRemarks(open: JournalBodyOf<'open'>, entries: readonly JournalEntry[], started: JournalBodyOf<'start'>): readonly string[] {
  const kept = bodiesOf(entries, 'done').filter(({ message }) => message?.startsWith(NOT_RUN) === true)
  if (kept.length === 0) return []
  const adjusted = adjustedTunes(open.plan)
  const byTune = Map.groupBy(kept, ({ step }) => adjusted.get(step) ?? started.tune)
  return [...byTune].map(([tune, { length }]) => `The tune "${tune}" was not in force in the start of ${started.at}, so ${length === 1 ? 'a run of it was' : `${length} runs of it were`} not run.`)
}

/** The tune of each run that comes after a live change within its start, by its step. */
function adjustedTunes(plan: Plan): ReadonlyMap<string, string> {
  const tunes = new Map<string, string>()
  let adjusted: string | undefined
  for (const step of planSteps(plan)) {
    if (step.kind === 'change' || step.kind === 'ladder') adjusted = undefined
    if (step.kind === 'adjust') adjusted = step.tune
    if ((step.kind === 'adjust' || step.kind === 'run') && adjusted !== undefined) tunes.set(step.id, adjusted)
  }
  return tunes
}

const NOT_RUN = 'not run'

/** The start as far as the workspace lacks it, and its clock where that is known better by now. */
function buildOwnStart(own: Start, clock: Start['clock'], { draft, record }: BuildContext): void {
  const stored = record(own.id)
  if (stored === undefined) draft.put({ ...own, ...(clock === undefined ? {} : { clock }) })
  else if (stored.kind === 'start') {
    const better = clock !== undefined && canonicalJson(stored.clock ?? null) !== canonicalJson(clock) ? { clock } : {}
    // A workload reported it in a later piece of the journal.
    const fallback = stored.result === 'started' && own.result === 'fallback start' ? { result: own.result } : {}
    if (Object.keys(better).length + Object.keys(fallback).length > 0) draft.put({ ...stored, ...better, ...fallback })
  }
}

/** How the rig's clock stood: to this workspace's where that was measured, else to another's; of several, the one known best. */
function clockOf(entries: readonly JournalEntry[], labId: string): Start['clock'] {
  const all = bodiesOf(entries, 'clock')
  const own = all.filter(({ against }) => against === labId)
  const best = (own.length > 0 ? own : all).toSorted((a, b) => a.within - b.within).at(0)
  return best === undefined ? undefined : { against: best.against, offset: best.offset, within: best.within }
}

function startRecord(open: JournalBodyOf<'open'>, body: JournalBodyOf<'start'>, names: JournalNames): Start {
  const tune = names.tunes.get(body.tune)
  return {
    kind: 'start',
    id: open.startId,
    rigId: names.rig.id,
    assemblyId: names.assemblyId,
    ...(tune === undefined ? {} : { tuneId: tune.id }),
    at: body.at,
    order: open.startOrder,
    how: body.how,
    result: body.result,
    ...(body.training === undefined ? {} : { training: body.training }),
    conditions: { ...open.plan.conditions, ...body.conditions },
    source: open.journal,
    ...(body.message === undefined || body.message === '' ? {} : { note: body.message }),
  }
}

/**
 * What was in force from when to when within the start. Returns the ids, which runs refer to. A later record of the same id corrects the one before, from its
 * beginning on (rule 28): a workload reported what was in force, and that holds of the runs before it too.
 */
function buildInForce(startId: string, entries: readonly JournalEntry[], names: JournalNames, { draft, record, takenBack }: BuildContext): Set<string> {
  const stretches = [...Map.groupBy(bodiesOf(entries, 'in force'), ({ inForceId }) => inForceId).values()].map((said) => ({ said, body: { ...said[said.length - 1], at: said[0].at } }))
  const seenBy = vouchers(entries)
  stretches.forEach(({ said, body }, index) => {
    const to = stretches.at(index + 1)?.body.at
    const stored = record(body.inForceId)
    const own = inForceRecord(body, { to, seenBy: seenBy.get(body.inForceId) }, startId, names)
    if (stored === undefined && !takenBack(body.inForceId)) draft.put(own)
    if (stored?.kind !== 'in force') return
    // Only what stands as it was booked: what a person corrected since is theirs.
    const asBooked = said.slice(0, -1).some(({ tune, known }) => stored.tuneId === names.tunes.get(tune ?? '')?.id && stored.known === known)
    if (asBooked && (stored.tuneId !== own.tuneId || stored.known !== own.known)) draft.put(own)
    // The change that ends it may come with a later piece of the journal.
    else if (stored.to === undefined && to !== undefined) draft.put({ ...stored, to })
  })
  return new Set(stretches.map(({ body }) => body.inForceId))
}

/** What the start's own first stretch was taken for is corrected later in the file: it was a fallback all along. */
function turnedOutFallback(entries: readonly JournalEntry[]): boolean {
  const [first, ...later] = bodiesOf(entries, 'in force')
  return first !== undefined && first.tune !== null && later.some(({ inForceId, tune }) => inForceId === first.inForceId && tune === null)
}

function inForceRecord(body: JournalBodyOf<'in force'>, { to, seenBy }: { readonly to: string | undefined; readonly seenBy: string | undefined }, startId: string, names: JournalNames): InForce {
  const tune = body.tune === null ? undefined : names.tunes.get(body.tune)
  return {
    kind: 'in force',
    id: body.inForceId,
    startId,
    from: body.at,
    ...(to === undefined ? {} : { to }),
    ...(tune === undefined ? {} : { tuneId: tune.id }),
    known: body.known,
    settings: body.observed.flatMap(({ key, found, unit, matches }) => {
      // A person vouched for the tune against this reading: the value that was read is not what was in force.
      if (body.tune !== null && !matches) return []
      if (found === null || key.trim() === '' || found === '') return []
      const value = typeof found === 'number' ? { shape: 'scalar' as const, value: found, unit: unit ?? '' } : { shape: 'mode' as const, mode: found.slice(0, LONGEST_MODE) }
      return [{ key: key.trim(), scope: { level: 'machine' as const }, value, known: body.known }]
    }),
    ...(seenBy === undefined ? {} : { note: seenBy }),
  }
}

/** As the schema of a setting allows. */
const LONGEST_MODE = 200

/** Undefined while nothing says how the run ended. */
function finishedRun(
  begin: JournalBodyOf<'begin'>,
  { end, said }: { readonly end: JournalBodyOf<'end'> | undefined; readonly said: readonly string[] },
  startId: string,
  names: JournalNames,
  { book, remarks }: BuildContext,
): Run | undefined {
  const workload = names.workloads.get(begin.workload)
  if (workload === undefined) {
    remarks.push(`Run ${begin.runId}, step ${begin.step}: the plan has no workload "${begin.workload}", so the run is not booked.`)
    return undefined
  }
  if (end === undefined) {
    const resolved = book.resolved(begin.runId)
    return resolved === undefined ? undefined : closedRun(begin, resolved, startId, names)
  }
  const note = noteOf([end.message ?? '', ...said])
  return {
    ...begunRun(begin, startId, workload.id),
    outcome: end.outcome,
    ...(end.phase === undefined ? {} : { phase: end.phase }),
    ...(end.place === undefined ? {} : { place: end.place }),
    measures: end.measures.flatMap((measure) => convertedMeasure(measure, begin.workload, workload, names.plan, remarks)),
    ...exposureOf(end, names.plan.workloads.find(({ name }) => name === begin.workload)),
    ...(note === '' ? {} : { note }),
  }
}

/** What a person does takes time, and nobody knows how much of it the machine was at work. */
function exposureOf({ seconds, exposure }: JournalBodyOf<'end'>, workload: PlanWorkload | undefined): Pick<Run, 'exposure'> {
  if (workload?.prompt === undefined) return { exposure: { seconds, ...exposure } }
  return exposure === undefined ? {} : { exposure }
}

/** What is known of a run from its beginning, however it ended. */
function begunRun(begin: JournalBodyOf<'begin'>, startId: string, workloadId: string): Pick<Run, 'kind' | 'id' | 'startId' | 'inForceId' | 'workloadId' | 'order' | 'at'> {
  return { kind: 'run', id: begin.runId, startId, inForceId: begin.inForceId, workloadId, order: begin.order, at: begin.at }
}

function closedRun(begin: JournalBodyOf<'begin'>, resolved: JournalBodyOf<'resolved'>, startId: string, names: JournalNames): Run | undefined {
  const workload = names.workloads.get(begin.workload)
  if (workload === undefined) return undefined
  return {
    ...begunRun(begin, startId, workload.id),
    outcome: resolved.outcome,
    measures: [],
    note: resolved.evidence,
  }
}

function convertedMeasure(measure: { readonly name: string; readonly value: number }, planned: string, workload: Workload, plan: Plan, remarks: string[]): Run['measures'] {
  const target = workload.measures.find(({ name }) => name === measure.name)
  const from = plan.workloads.find(({ name }) => name === planned)?.measures.find(({ name }) => name === measure.name)?.unit
  if (target === undefined) {
    remarks.push(`Workload "${workload.name}" has no measure "${measure.name}": its value was left out.`)
    return []
  }
  const value = from === undefined ? measure.value : convert(measure.value, from, target.unit)
  return value === undefined ? [] : [{ name: measure.name, value }]
}

/** A tune of this name with other settings is another tune: it gets the plan's id after its name. */
function planTune(wanted: PlanTune, plan: Plan, draft: Draft, remarks: string[]): Tune {
  const found = draft.findTune(wanted.name)
  if (found === undefined || found.settings.length === 0 || wanted.settings.length === 0 || canonicalJson(found.settings) === canonicalJson(wanted.settings)) {
    return draft.tune(wanted.name, wanted.settings)
  }
  const name = `${wanted.name} (${plan.id})`.slice(0, LONGEST_NAME)
  if (draft.findTune(name) === undefined) remarks.push(`The plan's tune "${wanted.name}" has other settings than the workspace's; it is kept as "${name}".`)
  return draft.tune(name, wanted.settings)
}

const LONGEST_NAME = 200

/** Name, version, preset, threads and input make a workload; a measure in a unit that doesn't convert makes another. */
function planWorkload(wanted: PlanWorkload, plan: Plan, draft: Draft, remarks: string[]): Workload {
  const measures: Measure[] = wanted.measures.map(({ reading: _reading, ...measure }) => measure)
  const fits = (workload: Workload): boolean =>
    (workload.version === undefined || workload.version === wanted.version) &&
    (workload.preset === undefined || workload.preset === wanted.preset) &&
    (workload.threads === undefined || workload.threads === wanted.threads) &&
    workload.measures.every((measure) => {
      const same = measures.find(({ name }) => name === measure.name)
      return same === undefined || (same.direction === measure.direction && comparisonOf(same.unit) === comparisonOf(measure.unit) && convert(1, same.unit, measure.unit) !== undefined)
    })
  const named = draft.workloads(wanted.name)
  const found = named.find(fits)
  if (found === undefined && named.length > 0) remarks.push(`Workload "${wanted.name}" of plan ${plan.id} differs from the workspace's in version or measures; it is kept as another one.`)
  const base: Workload = found ?? {
    kind: 'workload',
    id: draft.newId(),
    name: wanted.name,
    ...(wanted.group === undefined ? {} : { group: wanted.group }),
    measures,
  }
  const whole: Workload = {
    ...base,
    ...(wanted.version === undefined ? {} : { version: wanted.version }),
    ...(wanted.preset === undefined ? {} : { preset: wanted.preset }),
    ...(wanted.threads === undefined ? {} : { threads: wanted.threads }),
    ...(base.group === undefined && wanted.group !== undefined ? { group: wanted.group } : {}),
    measures: [...base.measures, ...measures.filter(({ name }) => !base.measures.some((measure) => measure.name === name))],
  }
  draft.put(whole)
  return whole
}

/** The suite that the plan forms of its workloads, named after it. One that is there already stays as it is. */
function planSuite(plan: Plan, workloads: ReadonlyMap<string, Workload>, draft: Draft): void {
  if (plan.title === SUITE_OF_ALL || draft.suite(plan.title) !== undefined) return
  const items = plan.workloads.flatMap((planned) => {
    const workload = workloads.get(planned.name)
    const measure = planned.measures.at(0)?.name
    return workload === undefined || measure === undefined ? [] : [{ workloadId: workload.id, measure, weight: planned.weight }]
  })
  // A plan whose workloads only pass or fail has nothing to weigh.
  if (items.length === 0) return
  draft.put({ kind: 'suite', id: draft.newId(), name: plan.title, items })
}

/** Keeps the smallest gain that the plan fixed, with the tunes that it holds for. Another limit under the same title is another record: neither hides the other. */
function planCampaign({ id, title, smallestGain }: Plan, tunes: ReadonlyMap<string, Tune>, draft: Draft): void {
  if (smallestGain === undefined) return
  const tuneIds = [...tunes.values()].map((tune) => tune.id)
  const campaigns = draft.campaigns()
  const ownName = `${title} (${id})`.slice(0, LONGEST_NAME)
  const known = campaigns.find((campaign) => (campaign.name === title || campaign.name === ownName) && isSame(campaign.smallestGain, smallestGain))
  if (known !== undefined) return draft.put({ ...known, tuneIds: [...new Set([...(known.tuneIds ?? []), ...tuneIds])] })
  const taken = campaigns.some((campaign) => campaign.name === title)
  draft.put({ kind: 'campaign', id: draft.newId(), name: taken ? ownName : title, questionIds: [], tuneIds: [...new Set(tuneIds)], smallestGain })
}

function isSame(one: SmallestGain | undefined, other: SmallestGain): boolean {
  return one !== undefined && canonicalJson(one) === canonicalJson(other)
}
