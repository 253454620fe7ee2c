// Which records a record refers to, and whether something still refers to one that is to go.
import { SpokenError, type LabRecord, type RecordKind } from '@guardband/model'
import type { LabDatabase } from './database.ts'
import { describeRecord } from './describe.ts'
import type { RecordStore } from './record-store.ts'

export interface Reference {
  readonly id: string
  readonly kind: RecordKind
}

export function referencesOf(record: LabRecord): readonly Reference[] {
  switch (record.kind) {
    case 'sample':
      return [{ id: record.partId, kind: 'part' }, ...optional(record.bin?.binId, 'bin')]
    case 'assembly':
      return [{ id: record.rigId, kind: 'rig' }, ...record.slots.map(({ sampleId }) => ({ id: sampleId, kind: 'sample' as const }))]
    case 'mount':
      return [{ id: record.assemblyId, kind: 'assembly' }]
    case 'tune':
      return optional(record.baseId, 'tune')
    case 'suite':
      return record.items.map(({ workloadId }) => ({ id: workloadId, kind: 'workload' }))
    case 'grade':
      return record.requires.flatMap(({ workloadId }) => optional(workloadId, 'workload'))
    case 'campaign':
      return [...record.questionIds.map((id) => ({ id, kind: 'question' as const })), ...(record.tuneIds ?? []).map((id) => ({ id, kind: 'tune' as const }))]
    case 'start':
      return [
        { id: record.rigId, kind: 'rig' },
        { id: record.assemblyId, kind: 'assembly' },
        ...optional(record.mountId, 'mount'),
        ...optional(record.tuneId, 'tune'),
      ]
    case 'in force':
      return [{ id: record.startId, kind: 'start' }, ...optional(record.tuneId, 'tune')]
    case 'run':
      return [
        { id: record.startId, kind: 'start' },
        { id: record.inForceId, kind: 'in force' },
        { id: record.workloadId, kind: 'workload' },
      ]
    case 'question': {
      const { a, b, suiteId } = record.ask.about
      const sides = [a, b].flatMap((side) => [
        ...optional(side.partId, 'part'),
        ...optional(side.tuneId, 'tune'),
        ...(side.sampleIds ?? []).map((id) => ({ id, kind: 'sample' as const })),
      ])
      return [...sides, { id: suiteId, kind: 'suite' }]
    }
    case 'bin':
      return [
        { id: record.partId, kind: 'part' },
        ...record.criteria.flatMap((criterion) => [...optional(criterion.workloadId, 'workload'), ...optional(criterion.tuneId, 'tune')]),
      ]
    case 'ceiling':
      return optional(record.partId, 'part')
    case 'sheet':
      return [
        { id: record.rigId, kind: 'rig' },
        ...optional(record.suiteId, 'suite'),
        ...record.workloadIds.map((id) => ({ id, kind: 'workload' as const })),
        ...record.starts.flatMap(({ tuneId, slots }) => [{ id: tuneId, kind: 'tune' as const }, ...slots.map(({ sampleId }) => ({ id: sampleId, kind: 'sample' as const }))]),
      ]
    case 'dose':
      return [{ id: record.sampleId, kind: 'sample' }, ...optional(record.startId, 'start')]
    case 'report':
      return record.answers.map(({ questionId }) => ({ id: questionId, kind: 'question' }))
    default:
      return []
  }
}

/** Throws a sentence when `record` names something that is not there or not of the kind it must be, or contradicts it. */
export function requireReferences(record: LabRecord, store: RecordStore): void {
  for (const { id, kind } of referencesOf(record)) {
    const found = store.kindOf(id)
    if (found === kind) continue
    throw new SpokenError({
      code: 'missing-reference',
      place: describeRecord(record, store.get),
      message: `it names a ${kind} ${id}, ${found === undefined ? 'which the workspace does not hold' : `but that is a ${found}`}.`,
      mend: `Put the ${kind} in first, or in the same change.`,
    })
  }
  const fault = contradiction(record, store)
  if (fault !== null) throw new SpokenError({ code: 'contradiction', place: describeRecord(record, store.get), message: fault })
}

/** Throws a sentence when something still refers to one of the records that a change took out. Call after the change was written. */
export function requireUnreferenced(gone: readonly LabRecord[], db: LabDatabase, store: RecordStore): void {
  if (gone.length === 0) return
  // Names are read as they were before the change took them out.
  const look = (id: string): LabRecord | undefined => gone.find((record) => record.id === id) ?? store.get(id)
  const listed = new Map<string, LabRecord>()
  for (const kind of LISTING_KINDS) for (const record of store.list(kind)) for (const { id } of referencesOf(record)) if (!listed.has(id)) listed.set(id, record)
  for (const record of gone) {
    if (record.kind === 'lab') throw new SpokenError({ code: 'lab-record', message: 'the record of the workspace itself can\'t be taken out.' })
    const columnId = dependant(record, db)
    const referrer = listed.get(record.id) ?? (columnId === undefined ? undefined : store.get(columnId))
    if (referrer === undefined) continue
    throw new SpokenError({
      code: 'still-referred',
      place: describeRecord(record, look),
      message: `it can't be taken out while ${describeRecord(referrer, look)} refers to it.`,
      mend: 'Take that out first, or in the same change.',
    })
  }
}

/** Indexed columns that may hold the id of a record of this kind. */
const COLUMNS: Partial<Record<RecordKind, readonly string[]>> = {
  part: ['part_id'],
  rig: ['rig_id'],
  assembly: ['assembly_id'],
  mount: ['mount_id'],
  tune: ['tune_id', 'base_id'],
  workload: ['workload_id'],
}

/** Kinds that hold references where no indexed column sees them; there are few of each, so they are read whole. The first that refers is named: the one that says most comes first. */
const LISTING_KINDS: readonly RecordKind[] = ['assembly', 'suite', 'grade', 'campaign', 'question', 'report', 'sheet', 'bin', 'ceiling', 'dose', 'sample']

function dependant(record: LabRecord, db: LabDatabase): string | undefined {
  if (record.kind === 'start') {
    return db.prepare<[string], { id: string }>(`SELECT id FROM record WHERE kind IN ('in force', 'run') AND start_id = ? LIMIT 1`).get(record.id)?.id
  }
  if (record.kind === 'in force') {
    return db.prepare<[string, string], { id: string }>(`SELECT id FROM record WHERE kind = 'run' AND start_id = ? AND in_force_id = ? LIMIT 1`).get(record.startId, record.id)?.id
  }
  for (const column of COLUMNS[record.kind] ?? []) {
    const row = db.prepare<[string], { id: string }>(`SELECT id FROM record WHERE ${column} = ? LIMIT 1`).get(record.id)
    if (row !== undefined) return row.id
  }
  return undefined
}

function optional(id: string | undefined, kind: RecordKind): readonly Reference[] {
  return id === undefined ? [] : [{ id, kind }]
}

function contradiction(record: LabRecord, store: RecordStore): string | null {
  if (record.kind === 'run') {
    const inForce = store.get(record.inForceId)
    if (inForce?.kind === 'in force' && inForce.startId !== record.startId) return 'what was in force belongs to another start than the run.'
  }
  if (record.kind === 'start') {
    const assembly = store.get(record.assemblyId)
    if (assembly?.kind === 'assembly' && assembly.rigId !== record.rigId) return 'its assembly stands on another rig than the start.'
  }
  const read = record.kind === 'suite' ? record.items : record.kind === 'bin' ? record.criteria.filter((criterion) => criterion.what === 'measure') : []
  for (const { workloadId, measure } of read) {
    const workload = store.get(workloadId)
    if (workload?.kind === 'workload' && !workload.measures.some(({ name }) => name === measure)) return `workload "${workload.name}" has no measure "${measure}".`
  }
  return null
}
