// The smallest sound record of every kind, of the invented lab, for tests.
import type { RecordKind } from '../records/index.ts'

export function makeId(number: number): string {
  return `0198a6f0-0000-7000-8000-${number.toString(16).padStart(12, '0')}`
}

const at = '2026-11-03T08:00:00Z'
const [one, two, three] = [1, 2, 3].map(makeId)

/** As they come from outside: only what must be there. */
export const smallestRecords: Readonly<Record<RecordKind, Readonly<Record<string, unknown>>>> = {
  lab: { kind: 'lab', id: one, name: 'Hollin & Pike' },
  part: { kind: 'part', id: one, name: 'Quillon 14', slot: 'processor' },
  sample: { kind: 'sample', id: one, partId: two, label: 'Q14-1' },
  rig: { kind: 'rig', id: one, name: 'north bench' },
  assembly: { kind: 'assembly', id: one, rigId: two, since: at, slots: [{ slot: 'processor', sampleId: three }] },
  mount: { kind: 'mount', id: one, assemblyId: two, at },
  tune: { kind: 'tune', id: one, name: 'as delivered', settings: [] },
  workload: { kind: 'workload', id: one, name: 'code build', measures: [{ name: 'time', unit: 's', direction: 'lower is better' }] },
  suite: { kind: 'suite', id: one, name: 'desk work', items: [{ workloadId: two, measure: 'time', weight: 1 }] },
  grade: { kind: 'grade', id: one, name: 'starts cold', requires: [{ what: 'cold starts', count: 10 }] },
  campaign: { kind: 'campaign', id: one, name: 'autumn', questionIds: [two] },
  cost: { kind: 'cost', id: one, of: 'start', handMinutes: 1, machineMinutes: 3 },
  start: { kind: 'start', id: one, rigId: two, assemblyId: three, how: 'cold' },
  'in force': { kind: 'in force', id: one, startId: two, known: 'read back' },
  run: { kind: 'run', id: one, startId: two, inForceId: three, workloadId: two, order: 0, outcome: 'scored' },
  question: {
    kind: 'question', id: one,
    ask: { kind: 'gain', about: { a: { partId: two }, b: { partId: three }, suiteId: one, smallestGain: { percent: 1, fixedAt: at } } },
  },
  report: { kind: 'report', id: one, title: 'Autumn', number: 1, at, file: 'report-1.html', fileDigest: 'ab', answers: [] },
  bin: { kind: 'bin', id: one, name: 'gold', partId: two },
  ceiling: { kind: 'ceiling', id: one, name: 'core voltage', settings: ['core voltage'], unit: 'V' },
  dose: { kind: 'dose', id: one, sampleId: two, at, setting: 'core voltage', volts: 1.25, hours: 2, known: 'measured' },
  evidence: { kind: 'evidence', id: one, sha256: 'ab'.repeat(32), name: 'paste.jpg', mediaType: 'image/jpeg', bytes: 12, at, by: 'Ada Hollin', about: [] },
  layout: { kind: 'layout', id: one, name: 'board dump', fingerprint: 'ab', of: { use: 'settings dump', separator: ':', names: [] } },
  sheet: { kind: 'sheet', id: one, name: 'launch day', rigId: two, at, workloadIds: [three], repeats: 2, starts: [{ startId: two, tuneId: three, how: 'cold', slots: [{ slot: 'processor', sampleId: one }] }] },
  'setting kind': { kind: 'setting kind', id: one, name: 'core voltage', shape: 'scalar' },
}
