// A small sound workspace's records: two tunes of one processor, one workload, three starts a tune, two runs a start.
import type { ChangeItem, LabRecord, Question } from '@guardband/model'

export interface SampleLab {
  readonly items: readonly ChangeItem[]
  readonly partName: string
  readonly runIds: readonly string[]
  readonly ask: Question['ask']
}

/** Scores of tune B stand about two percent above those of A, with a spread of about half a percent. */
export function sampleLab(newId: () => string, partName: string): SampleLab {
  const [partId, sampleId, rigId, assemblyId, workloadId, suiteId] = [newId(), newId(), newId(), newId(), newId(), newId()]
  const tunes = [
    { id: newId(), name: 'as delivered', limit: 65 },
    { id: newId(), name: 'quiet 95 W', limit: 95 },
  ]
  const records: LabRecord[] = [
    { kind: 'part', id: partId, name: partName, slot: 'processor', prices: [] },
    { kind: 'sample', id: sampleId, partId, label: 'Q14-1', origin: 'retail', picked: 'at random', status: 'bench' },
    { kind: 'rig', id: rigId, name: 'north bench' },
    { kind: 'assembly', id: assemblyId, rigId, since: '2026-03-02T08:00:00Z', slots: [{ slot: 'processor', sampleId }] },
    { kind: 'workload', id: workloadId, name: 'code build', measures: [{ name: 'score', unit: '1', direction: 'higher is better' }] },
    { kind: 'suite', id: suiteId, name: 'field work', items: [{ workloadId, measure: 'score', weight: 1 }] },
    ...tunes.map((tune): LabRecord => ({
      kind: 'tune', id: tune.id, name: tune.name,
      settings: [{ key: 'package power limit', scope: { level: 'package' }, asked: { shape: 'scalar', value: tune.limit, unit: 'W' } }],
    })),
  ]
  const runIds: string[] = []
  for (let place = 0; place < 6; place++) {
    const tune = tunes[place % 2]
    const [startId, inForceId] = [newId(), newId()]
    records.push(
      { kind: 'start', id: startId, rigId, assemblyId, tuneId: tune.id, at: `2026-03-02T0${place + 1}:00:00Z`, how: 'cold', result: 'started', conditions: {} },
      { kind: 'in force', id: inForceId, startId, tuneId: tune.id, known: 'read back', settings: [] },
    )
    for (let order = 0; order < 2; order++) {
      const id = newId()
      runIds.push(id)
      const value = (place % 2 === 0 ? 1000 : 1020) + SPREAD[place] + order
      records.push({ kind: 'run', id, startId, inForceId, workloadId, order, at: `2026-03-02T0${place + 1}:1${order}:00Z`, outcome: 'scored', measures: [{ name: 'score', value }] })
    }
  }
  return {
    items: records.map((after) => ({ before: null, after })),
    partName,
    runIds,
    ask: {
      kind: 'gain',
      about: { a: { tuneId: tunes[0].id }, b: { tuneId: tunes[1].id }, suiteId, slot: 'processor', smallestGain: { percent: 0.5, fixedAt: '2026-03-01T08:00:00Z' } },
    },
  }
}

/** Made up by hand: what each start adds to its tune's score. */
const SPREAD = [4, -3, -5, 2, 1, 5]
