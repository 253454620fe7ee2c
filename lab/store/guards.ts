// What no change gets past: ceilings of tunes, the lock of wet samples, and leaving quarantine. And what follows from facts: a sample that was driven past a ceiling, or run cold, is quarantined.
import { askedValues, ceilingFindings, coldSentences, settingsOfTune, SpokenError, type Ceiling, type CeilingFinding, type ChangeItem, type LabRecord, type Sample, type Start, type Tune } from '@guardband/model'
import type { LabDatabase } from './database.ts'
import { describeRecord, sampleText } from './describe.ts'
import { refuseUnreadable } from './measured-workloads.ts'
import { parseBody, type RecordStore } from './record-store.ts'
import { drivenSlots, heldSettings, reaches } from './sample-voltage.ts'

/**
 * How a change came about. by hand: a person means it, and can be refused. as it happened: a rig or a file tells what was, which nobody can refuse.
 * restored: it comes as it stood elsewhere, or stood before, and nothing is added to it.
 */
export type Told = 'by hand' | 'as it happened' | 'restored'

export interface Guards {
  /** Call after the change was written. Throws a sentence, or returns the samples that the change puts into quarantine. */
  readonly look: (change: { readonly items: readonly ChangeItem[]; readonly why?: string | undefined; readonly told: Told; readonly undoes?: number | undefined }) => readonly Sample[]
}

export function createGuards(db: LabDatabase, store: RecordStore, now: () => number): Guards {
  const wetSince = db.prepare<[string], { at: string }>(
    `SELECT c.at AS at FROM change_item i JOIN change c ON c.seq = i.seq
     WHERE i.id = ? AND json_extract(i.after, '$.status') = 'wet' AND json_extract(i.before, '$.status') IS NOT 'wet' ORDER BY i.seq DESC LIMIT 1`,
  )
  const stretches = db.prepare<[string], { body: string }>(`SELECT body FROM record INDEXED BY record_by_start WHERE kind = 'in force' AND start_id = ? ORDER BY id`)
  const startsOf = db.prepare<[string], { body: string }>(`SELECT body FROM record INDEXED BY record_by_assembly WHERE assembly_id = ? AND kind = 'start' ORDER BY id`)
  const startsByTune = db.prepare<[string], { body: string }>(`SELECT body FROM record INDEXED BY record_by_tune WHERE tune_id = ? AND kind = 'start' ORDER BY id`)
  const becameWet = (id: string): number => Date.parse(wetSince.get(id)?.at ?? '')
  const nameSample = (sample: Sample): string => {
    const part = store.get(sample.partId)
    return sampleText(part?.kind === 'part' ? part.name : '', sample.label).trim()
  }

  const startsWith = (assemblyId: string): readonly Start[] => startsOf.all(assemblyId).flatMap(({ body }) => asStart(parseBody(body)))
  const startsAt = (tuneId: string): readonly Start[] => startsByTune.all(tuneId).flatMap(({ body }) => asStart(parseBody(body)))

  const refuseWet = (start: Start): void => {
    for (const sample of samplesOf(start.assemblyId, store)) {
      // What was run before it became wet may still be entered.
      if (sample.status !== 'wet' || (start.at !== undefined && Date.parse(start.at) < becameWet(sample.id))) continue
      throw new SpokenError({
        code: 'wet-sample',
        place: nameSample(sample),
        message: 'it is wet, so nothing may be started with it.',
        mend: 'Dry it, look at it, and enter an inspection that found it dry.',
      })
    }
  }

  /** Starts that a change says something new of, though it names only their assembly or their tune. */
  const startsBehind = (items: readonly ChangeItem[]): readonly ChangeItem[] =>
    items.flatMap(({ before, after }) => {
      const assembly = before?.kind === 'assembly' && after?.kind === 'assembly' && seatsOf(before) !== seatsOf(after) ? startsWith(after.id) : []
      const tune = before?.kind === 'tune' && after?.kind === 'tune' && JSON.stringify([before.baseId, before.settings]) !== JSON.stringify([after.baseId, after.settings]) ? startsAt(after.id) : []
      return [...assembly, ...tune].map((start) => ({ before: null, after: start }))
    })

  const refuseHand = (items: readonly ChangeItem[], why: string | undefined): void => {
    const reasoned = why !== undefined && why.trim() !== ''
    for (const { before, after } of items) {
      if (before?.kind === 'sample' && after?.kind === 'sample') refuseRelease(before, after, reasoned, becameWet, nameSample)
      if (after?.kind === 'start' && (before?.kind !== 'start' || before.assemblyId !== after.assemblyId)) refuseWet(after)
      // Another sample in an assembly is another sample in every start that was made with it.
      if (before?.kind === 'assembly' && after?.kind === 'assembly' && seatsOf(before) !== seatsOf(after)) for (const start of startsWith(after.id)) refuseWet(start)
    }
    refuseTunes(items, store)
  }

  /** By sample, what a ceiling says of what was run. */
  const strains = (items: readonly ChangeItem[]): ReadonlyMap<string, readonly string[]> => {
    const ceilings = store.list('ceiling')
    if (ceilings.length === 0) return new Map()
    const reasons = new Map<string, string[]>()
    const add = (sampleId: string, sentences: readonly string[]): void => {
      if (sentences.length > 0) reasons.set(sampleId, [...new Set([...(reasons.get(sampleId) ?? []), ...sentences])])
    }
    for (const { startId, whole, inForceIds } of touchedStarts([...items, ...startsBehind(items)])) {
      const start = store.get(startId)
      const assembly = start?.kind === 'start' ? store.get(start.assemblyId) : undefined
      if (start?.kind !== 'start' || assembly?.kind !== 'assembly') continue
      const held = stretches.all(startId).flatMap(({ body }) => {
        const record = parseBody(body)
        return record.kind === 'in force' && (whole || inForceIds.has(record.id)) ? [record] : []
      })
      const settings = (held.length === 0 && whole ? [undefined] : held).map((record) => heldSettings(start, record, store.get))
      const { cooling, ambient, coolant } = start.conditions
      for (const { slot, sampleId } of drivenSlots(assembly)) {
        const sample = store.get(sampleId)
        if (sample?.kind !== 'sample') continue
        const part = { partId: sample.partId, slot, ...(cooling === undefined ? {} : { cooling }) }
        for (const stretch of settings) {
          const found = ceilingFindings({ settings: stretch.filter((setting) => reaches(setting, slot, ceilings)), ceilings, part })
          add(sampleId, found.flatMap(({ what, sentence }) => (what === 'past' ? [sentence] : [])))
        }
        if (whole) add(sampleId, coldSentences({ ceilings, part, ambient, coolant }).map(capital))
      }
    }
    return reasons
  }

  const quarantined = (items: readonly ChangeItem[]): readonly Sample[] =>
    [...strains(items)].flatMap(([sampleId, sentences]) => {
      const sample = store.get(sampleId)
      return sample?.kind === 'sample' ? intoQuarantine(sample, sentences, new Date(now()).toISOString()) : []
    })

  /** A second start that strained a sample as the first did left no trace on it: taking back the first must not free it. */
  const refuseUndo = (items: readonly ChangeItem[], why: string | undefined): void => {
    for (const { before, after } of items) {
      if (before?.kind === 'sample' && after?.kind === 'sample' && (why ?? '').trim() === '' && leavesByHand(before, after)) {
        throw new SpokenError({
          code: 'quarantine-left',
          place: nameSample(after),
          message: `a person put it into "${before.status}", and it may leave that only for a reason, also when the change is undone.`,
          mend: 'Say why in the reason of the undo.',
        })
      }
      if (before?.kind !== 'sample' || after?.kind !== 'sample' || before.quarantine === undefined || before.quarantine.reason === after.quarantine?.reason) continue
      const assemblies = new Set(store.list('assembly').flatMap(({ id, slots }) => (slots.some(({ sampleId }) => sampleId === after.id) ? [id] : [])))
      const held = [...assemblies].flatMap((id) => startsOf.all(id)).map(({ body }) => ({ before: null, after: parseBody(body) }))
      const { reason } = before.quarantine
      const still = (strains(held).get(after.id) ?? []).find((text) => reason.includes(text) && after.quarantine?.reason.includes(text) !== true)
      if (still === undefined) continue
      throw new SpokenError({
        code: 'quarantine-stands',
        place: nameSample(after),
        message: `it would leave quarantine, though another start did the same to it (${sentence(still)}).`,
        mend: 'Take that one back first, or let the sample out for a reason.',
      })
    }
  }

  return {
    look: ({ items, why, told, undoes }) => {
      refuseUnreadable(items, db, store)
      refuseOfLab(items, store)
      if (undoes !== undefined) refuseUndo(items, why)
      if (told === 'restored') return []
      if (told === 'by hand') refuseHand(items, why)
      return quarantined(items)
    },
  }
}

/** Out of quarantine or wet that no ceiling put it into: with that goes what somebody saw. */
function leavesByHand(before: Sample, after: Sample): boolean {
  return before.status !== after.status && (before.status === 'wet' || (before.status === 'quarantined' && before.quarantine?.by !== 'guardband'))
}

/** One record says what the workspace is, and what came from the simulated bench never passes for measured. */
function refuseOfLab(items: readonly ChangeItem[], store: RecordStore): void {
  for (const { before, after } of items) {
    if (after?.kind !== 'lab') continue
    if (before === null && store.list('lab').length > 1) {
      throw new SpokenError({ code: 'lab-record', place: describeRecord(after, store.get), message: 'a workspace has one record of itself, and this one has its own.', mend: 'Change that one, or make another workspace.' })
    }
    if (before?.kind === 'lab' && before.simulated && !after.simulated) {
      throw new SpokenError({ code: 'simulated-mark', place: describeRecord(after, store.get), message: 'it is marked as simulated, and keeps that mark.', mend: 'Make another workspace for what is measured on real machines.' })
    }
  }
}

function refuseRelease(before: Sample, after: Sample, reasoned: boolean, becameWet: (id: string) => number, nameSample: (sample: Sample) => string): void {
  const place = nameSample(after)
  if (before.status === 'wet' && after.status !== 'wet') {
    const wet = becameWet(before.id)
    const dried = (after.inspections ?? []).some(({ at, dry }) => dry && !(Date.parse(at) <= wet))
    if (!dried) {
      throw new SpokenError({ code: 'not-inspected', place, message: 'it is wet, and nobody found it dry since.', mend: 'Enter an inspection that found it dry, later than it became wet, with or before this.' })
    }
  }
  if (reasoned) return
  const quarantine = before.quarantine ?? after.quarantine
  const mend = 'Say why in the reason of this change.'
  if (before.status === 'quarantined' && after.status !== 'quarantined') {
    throw new SpokenError({ code: 'quarantine-left', place, message: `it is quarantined${quarantine === undefined ? '' : ` (${sentence(quarantine.reason)})`}, and may leave only for a reason.`, mend })
  }
  if (before.quarantine !== undefined && after.quarantine === undefined) {
    throw new SpokenError({ code: 'quarantine-wiped', place, message: `why it was quarantined (${sentence(before.quarantine.reason)}) can't be taken away without a reason.`, mend })
  }
  if (quarantine !== undefined && after.status !== before.status && (after.status === 'for sale' || before.status === 'wet') && after.status !== 'quarantined') {
    throw new SpokenError({ code: 'quarantined-before', place, message: `it was quarantined (${sentence(quarantine.reason)}), so it may go ${after.status === 'for sale' ? 'for sale' : 'back to the bench'} only for a reason.`, mend })
  }
}

/** Tunes that the change writes, and tunes based on them that it pushes past a ceiling. */
function refuseTunes(items: readonly ChangeItem[], store: RecordStore): void {
  const written = new Map(items.flatMap((item) => (item.after?.kind === 'tune' ? [[item.after.id, item]] : [])))
  if (written.size === 0) return
  const ceilings = store.list('ceiling')
  for (const { after } of written.values()) if (after?.kind === 'tune') settingsOfTune(after, store.get)
  if (ceilings.length === 0) return
  const earlier = (id: string): LabRecord | undefined => written.get(id)?.before ?? store.get(id)
  for (const tune of store.list('tune')) {
    const own = written.has(tune.id)
    if (!own && !isBasedOn(tune, written, store)) continue
    const found = findings(tune, store.get, ceilings)
    const known = own ? new Set<string>() : new Set(findings(tune, earlier, ceilings).map(({ sentence: text }) => text))
    const open = found.filter(({ ceilingId, sentence: text }) => tune.override?.ceilingIds.includes(ceilingId) !== true && !known.has(text))
    const first = open[0]
    if (first === undefined) continue
    throw new SpokenError({
      code: 'past-ceiling',
      place: describeRecord(tune, store.get),
      message: `${first.sentence.replace(/\.$/, '')}${open.length === 1 ? '' : `, and ${open.length - 1} more like it`}${own ? '' : ', by what this changes in the tune that it is based on'}.`,
      mend: first.what === 'unchecked' ? 'Give it in a unit that converts, or let it pass that ceiling with a reason.' : 'Keep within the ceiling, or let the tune pass it with a reason; the reason then stands in every report.',
    })
  }
}

function findings(tune: Tune, look: (id: string) => LabRecord | undefined, ceilings: readonly Ceiling[]): readonly CeilingFinding[] {
  return ceilingFindings({ settings: askedValues(settingsOfTune(tune, look)), ceilings })
}

function isBasedOn(tune: Tune, bases: ReadonlyMap<string, unknown>, store: RecordStore): boolean {
  const seen = new Set<string>()
  for (let id = tune.baseId; id !== undefined && !seen.has(id); ) {
    if (bases.has(id)) return true
    seen.add(id)
    const base = store.get(id)
    id = base?.kind === 'tune' ? base.baseId : undefined
  }
  return false
}

interface TouchedStart {
  readonly startId: string
  /** The start itself is new, or changed in what matters here. */
  readonly whole: boolean
  readonly inForceIds: ReadonlySet<string>
}

/** A note or an end of time added to a start says nothing new of what its samples went through. */
function touchedStarts(items: readonly ChangeItem[]): readonly TouchedStart[] {
  const touched = new Map<string, { startId: string; whole: boolean; inForceIds: Set<string> }>()
  const of = (startId: string): { startId: string; whole: boolean; inForceIds: Set<string> } => {
    const known = touched.get(startId) ?? { startId, whole: false, inForceIds: new Set<string>() }
    touched.set(startId, known)
    return known
  }
  for (const { before, after } of items) {
    if (after?.kind === 'start' && (before?.kind !== 'start' || strain(before) !== strain(after))) of(after.id).whole = true
    if (after?.kind === 'in force' && (before?.kind !== 'in force' || strain(before) !== strain(after))) of(after.startId).inForceIds.add(after.id)
  }
  return [...touched.values()]
}

function strain(record: LabRecord & { kind: 'start' | 'in force' }): string {
  if (record.kind === 'in force') return JSON.stringify([record.startId, record.tuneId, record.settings.map(({ key, scope, value }) => [key, scope, value])])
  const { cooling, ambient, coolant } = record.conditions
  return JSON.stringify([record.assemblyId, record.tuneId, record.result, cooling, ambient, coolant])
}

/** A wet sample stays locked as wet; the reason stands beside that. Nothing when it stands there already. */
function intoQuarantine(sample: Sample, sentences: readonly string[], at: string): readonly Sample[] {
  const reason = sample.quarantine?.reason ?? ''
  const more = sentences.filter((text) => !reason.includes(text))
  const status = sample.status === 'wet' ? 'wet' : 'quarantined'
  if (more.length === 0 && sample.status === status) return []
  const whole = [reason, ...more].filter((text) => text !== '').join(' ')
  return [{ ...sample, status, quarantine: { reason: whole.length > LONGEST_REASON ? `${whole.slice(0, LONGEST_REASON - CUT.length)}${CUT}` : whole, by: 'guardband', at } }]
}

/** As the schema of a sample allows. */
const LONGEST_REASON = 2000
const CUT = ' ...'

function seatsOf({ slots }: LabRecord & { kind: 'assembly' }): string {
  return JSON.stringify(slots.map(({ slot, sampleId }) => [slot, sampleId]))
}

function asStart(record: LabRecord): readonly Start[] {
  return record.kind === 'start' ? [record] : []
}

function samplesOf(assemblyId: string, store: RecordStore): readonly Sample[] {
  const assembly = store.get(assemblyId)
  if (assembly?.kind !== 'assembly') return []
  return assembly.slots.flatMap(({ sampleId }) => {
    const sample = store.get(sampleId)
    return sample?.kind === 'sample' ? [sample] : []
  })
}

/** Within brackets, a sentence loses its stop. */
function sentence(text: string): string {
  return text.trim().replace(/\.$/, '')
}

function capital(text: string): string {
  return text.slice(0, 1).toUpperCase() + text.slice(1)
}
