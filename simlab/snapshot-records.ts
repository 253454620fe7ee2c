// The records of a lab whose question would freeze into a given simulated snapshot: the way back from snapshot to bench book.
import type { GainSnapshot, LabRecord, RecordOf } from '@guardband/model'
import { seededIds } from './seeded-ids.ts'

export interface SnapshotRecords {
  /** Every record but the lab's own. */
  readonly records: readonly LabRecord[]
  readonly questionId: string
}

/** For snapshots whose sides differ by tune on the same samples, or by part; one suite of every workload, one question. */
export function snapshotRecords(snapshot: GainSnapshot, seed: number): SnapshotRecords {
  const newId = seededIds(seed, snapshot.question.id)
  const firstAt = Math.min(...snapshot.starts.map(({ at }) => Date.parse(at ?? snapshot.smallestGain.fixedAt)))
  const early = (): string => newId(firstAt - MINUTE)
  const records: LabRecord[] = []
  const ids = new Map<string, string>()
  const once = (key: string, make: (id: string) => LabRecord): string => {
    const known = ids.get(key)
    if (known !== undefined) return known
    const id = early()
    ids.set(key, id)
    records.push(make(id))
    return id
  }
  const part = (name: string, slot: RecordOf<'part'>['slot']): string => once(`part ${name}`, (id) => ({ kind: 'part', id, name, slot, prices: [] }))
  const sample = (name: string, slot: RecordOf<'part'>['slot'], partName: string, rest: Pick<RecordOf<'sample'>, 'origin' | 'picked' | 'status'>): string => {
    const partId = part(partName, slot)
    return once(`sample ${partName} ${name}`, (id) => ({ kind: 'sample', id, partId, label: name, ...rest }))
  }
  const tune = (name: string): string => once(`tune ${name}`, (id) => ({ kind: 'tune', id, name, settings: [] }))
  const rig = (name: string): string => once(`rig ${name}`, (id) => ({ kind: 'rig', id, name }))

  const compared = snapshot.samples.map(({ label, part: partName, origin, picked, status }) => sample(label, COMPARED_SLOT, partName, { origin, picked, status }))
  const workloads = snapshot.workloads.map(({ label, group, measure, unit, direction, resolution, matters }) =>
    once(`workload ${label}`, (id) => ({
      kind: 'workload', id, name: label, ...(group === undefined ? {} : { group }),
      measures: [{ name: measure, unit, direction, ...(resolution === undefined ? {} : { resolution }), ...(matters === undefined ? {} : { matters }) }],
    })),
  )
  const suiteId = once('suite', (id) => ({
    kind: 'suite', id, name: 'Suite', items: snapshot.workloads.map(({ measure, weight }, index) => ({ workloadId: workloads[index], measure, weight })),
  }))
  const side = ({ label, part: partName, tune: tuneName }: GainSnapshot['sides'][0]): RecordOf<'question'>['ask']['about']['a'] => ({
    label, tuneId: tune(tuneName ?? COMMON_TUNE), ...(partName === undefined ? {} : { partId: part(partName, COMPARED_SLOT) }),
  })
  const [a, b] = snapshot.sides.map(side)
  const questionId = once('question', (id) => ({
    kind: 'question', id, title: snapshot.question.title, ask: { kind: 'gain', about: { a, b, suiteId, slot: COMPARED_SLOT, smallestGain: snapshot.smallestGain } },
  }))

  const runsOf = Map.groupBy(snapshot.runs.id.keys(), (row) => snapshot.runs.start[row])
  snapshot.starts.forEach((start, index) => {
    const at = Date.parse(start.at ?? snapshot.smallestGain.fixedAt)
    const rigId = rig(start.rig)
    const sampleId = compared[start.sample]
    const partners = Object.entries(start.partners).flatMap(([slot, label]) =>
      slot === 'board' || slot === 'memory' ? [{ slot, sampleId: sample(label, slot, `simulated ${slot}`, RETAIL) } as const] : [],
    )
    const assemblyId = once(`assembly ${start.rig} ${start.sample}`, (id) => ({
      kind: 'assembly', id, rigId, since: new Date(at).toISOString(), slots: [{ slot: COMPARED_SLOT, sampleId }, ...partners],
    }))
    const mountId = start.mount === undefined ? undefined : once(`mount ${start.mount}`, (id) => ({ kind: 'mount', id, assemblyId, at: new Date(at).toISOString() }))
    const tuneId = tune(snapshot.sides[start.side].tune ?? COMMON_TUNE)
    const startId = newId(at)
    records.push({
      kind: 'start', id: startId, rigId, assemblyId, ...(mountId === undefined ? {} : { mountId }), tuneId, at: new Date(at).toISOString(), order: start.order, how: start.how, result: 'started',
      ...(start.training === undefined ? {} : { training: start.training }), conditions: start.conditions, source: 'simulated bench',
    })
    const inForceId = newId(at)
    records.push({ kind: 'in force', id: inForceId, startId, from: new Date(at).toISOString(), tuneId, known: start.known, settings: [] })
    for (const row of runsOf.get(index) ?? []) {
      const workload = snapshot.runs.workload[row]
      const value = snapshot.runs.value[row]
      const seconds = snapshot.runs.seconds[row]
      records.push({
        kind: 'run', id: newId(at), startId, inForceId, workloadId: workloads[workload], order: snapshot.runs.order[row], outcome: snapshot.runs.outcome[row],
        measures: value === null ? [] : [{ name: snapshot.workloads[workload].measure, value }], ...(seconds === null ? {} : { exposure: { seconds } }),
      })
    }
  })
  return { records, questionId }
}

const MINUTE = 60_000
const COMPARED_SLOT = 'processor'
/** What both sides run at where the parts differ and not the tunes. */
const COMMON_TUNE = 'common tune'
const RETAIL = { origin: 'retail', picked: 'at random', status: 'bench' } as const
