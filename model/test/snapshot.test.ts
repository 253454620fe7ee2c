// The one seam between records and questions: what a snapshot holds together, and the digest that names it.
import { assert, constantFrom, double, property } from 'fast-check'
import { expect, test } from 'vitest'
import { gainSnapshotSchema, snapshotDigest, type GainSnapshot } from '../snapshot.ts'

function makeSnapshot(): GainSnapshot {
  return gainSnapshotSchema.parse({
    schema: 1,
    kind: 'gain',
    question: { id: 'q', title: 'Is the 14R worth it?' },
    lab: { name: 'Hollin & Pike', currency: 'EUR', simulated: true },
    slot: 'processor',
    sides: [{ label: 'Quillon 14' }, { label: 'Quillon 14R' }],
    samples: [
      { id: 'a', label: 'Q14-1', part: 'Quillon 14', origin: 'retail', picked: 'at random', status: 'bench' },
      { id: 'b', label: 'Q14R-1', part: 'Quillon 14R', origin: 'press', picked: 'chosen', status: 'bench' },
    ],
    starts: [0, 1].map((side) => ({ id: `s${side}`, side, sample: side, rig: 'north bench', partners: { board: 'Cairn M2' }, order: side, how: 'cold', conditions: { ambient: 21 }, known: 'read back' })),
    workloads: [{ id: 'w', label: 'code build', measure: 'time', unit: 's', compares: 'ratio', direction: 'lower is better', weight: 1 }],
    runs: { id: ['r0', 'r1'], start: [0, 1], workload: [0, 0], order: [0, 0], outcome: ['scored', 'machine reset'], value: [102.4, null], seconds: [102.4, null], setAside: [null, null] },
    failedStarts: [],
    smallestGain: { percent: 1, fixedAt: '2026-11-03T08:00:00Z' },
    costs: {
      start: { hand: 0, machine: 3, from: 'log' },
      tuneChange: { hand: 1, machine: 2, from: 'person' },
      sampleChange: { hand: 12, machine: 4, from: 'default' },
    },
  })
}

function digestOf(score: number): string {
  const snapshot = makeSnapshot()
  return snapshotDigest({ ...snapshot, runs: { ...snapshot.runs, value: [score, null] } })
}

function accepts(change: (snapshot: GainSnapshot) => unknown): boolean {
  return gainSnapshotSchema.safeParse(change(makeSnapshot())).success
}

test('a sound snapshot is accepted and comes back from JSON with the same digest', () => {
  const snapshot = makeSnapshot()
  const read = gainSnapshotSchema.parse(JSON.parse(JSON.stringify(snapshot)))
  expect(read).toEqual(snapshot)
  expect(snapshotDigest(read)).toBe(snapshotDigest(snapshot))
  expect(snapshotDigest(snapshot)).toMatch(/^[0-9a-f]{64}$/)
})

test('columns of runs have one length', () => {
  expect(accepts((snapshot) => ({ ...snapshot, runs: { ...snapshot.runs, value: [1] } }))).toBe(false)
})

test('no start names a sample, and no run a start or workload, that is not there', () => {
  expect(accepts((snapshot) => ({ ...snapshot, starts: snapshot.starts.map((start) => ({ ...start, sample: 2 })) }))).toBe(false)
  expect(accepts((snapshot) => ({ ...snapshot, runs: { ...snapshot.runs, start: [0, 2] } }))).toBe(false)
  expect(accepts((snapshot) => ({ ...snapshot, runs: { ...snapshot.runs, workload: [0, 1] } }))).toBe(false)
})

test('what is no finite number never gets in', () => {
  for (const value of [Number.NaN, Number.POSITIVE_INFINITY]) {
    expect(accepts((snapshot) => ({ ...snapshot, runs: { ...snapshot.runs, value: [value, null] } }))).toBe(false)
    expect(accepts((snapshot) => ({ ...snapshot, workloads: snapshot.workloads.map((workload) => ({ ...workload, weight: value })) }))).toBe(false)
  }
})

test('without a workload there is no snapshot', () => {
  expect(accepts((snapshot) => ({ ...snapshot, workloads: [], runs: { id: [], start: [], workload: [], order: [], outcome: [], value: [], seconds: [], setAside: [] } }))).toBe(false)
})

test('the digest tells any change of evidence, rule or price, and no change of key order', () => {
  const whole = snapshotDigest(makeSnapshot())
  const digests = [
    (snapshot: GainSnapshot) => ({ ...snapshot, runs: { ...snapshot.runs, value: [102.5, null] } }),
    (snapshot: GainSnapshot) => ({ ...snapshot, runs: { ...snapshot.runs, setAside: ['cooler loose', null] } }),
    (snapshot: GainSnapshot) => ({ ...snapshot, smallestGain: { ...snapshot.smallestGain, percent: 2 } }),
    (snapshot: GainSnapshot) => ({ ...snapshot, money: { extraPrice: 74 } }),
    (snapshot: GainSnapshot) => ({ ...snapshot, workloads: snapshot.workloads.map((workload) => ({ ...workload, weight: 2 })) }),
    (snapshot: GainSnapshot) => ({ ...snapshot, sides: [snapshot.sides[1], snapshot.sides[0]] }),
  ].map((change) => snapshotDigest(gainSnapshotSchema.parse(change(makeSnapshot()))))
  expect(new Set([whole, ...digests]).size).toBe(digests.length + 1)
  const turned = Object.fromEntries(Object.entries(makeSnapshot()).toReversed())
  expect(snapshotDigest(gainSnapshotSchema.parse(turned))).toBe(whole)
})

test('two scores have one digest only when they are the same number', () => {
  const score = double({ min: 1e-6, max: 1e9, noNaN: true })
  assert(
    property(score, score, constantFrom(0, 1), (a, b, same) => {
      const other = same === 1 ? a : b
      expect(digestOf(a) === digestOf(other)).toBe(a === other)
    }),
  )
})
