// Parts, samples and rigs whole, over a real workspace: seats by moment, runs of a sample, bins held against them. Expected figures are worked by hand.
import { describe, expect, test } from 'vitest'
import type { LabRecord } from '@guardband/model'
import { adding, BY, newLab, testSources } from './support.ts'

const at = (hour: number): string => `2026-11-05T${String(hour).padStart(2, '0')}:00:00Z`

/** Two samples on one rig one after the other, the second then moved to another rig; three starts of the first. */
function fill() {
  const sources = testSources()
  const id = sources.newId
  const lab = newLab(sources)
  const part: LabRecord & { kind: 'part' } = { kind: 'part', id: id(), name: 'Quillon 14', slot: 'processor', prices: [] }
  const sample = (label: string): LabRecord & { kind: 'sample' } => ({ kind: 'sample', id: id(), partId: part.id, label, origin: 'retail', picked: 'at random', status: 'bench' })
  const [a, b, rest] = [sample('a'), sample('b'), sample('rest')]
  const [north, south] = ['north bench', 'south bench'].map((name): LabRecord & { kind: 'rig' } => ({ kind: 'rig', id: id(), name }))
  const assembly = (rigId: string, since: number, sampleIds: readonly string[]): LabRecord & { kind: 'assembly' } => ({ kind: 'assembly', id: id(), rigId, since: at(since), slots: sampleIds.map((sampleId) => ({ slot: 'processor' as const, sampleId })) })
  const [first, second, emptied, third] = [assembly(north.id, 8, [a.id]), assembly(north.id, 12, [b.id]), assembly(north.id, 14, []), assembly(south.id, 14, [b.id])]
  const workload: LabRecord & { kind: 'workload' } = { kind: 'workload', id: id(), name: 'tile render', measures: [{ name: 'score', unit: 'points', direction: 'higher is better' }] }
  const tune: LabRecord & { kind: 'tune' } = { kind: 'tune', id: id(), name: 'eco', settings: [] }
  const bin = (name: string, amount: number, value: number): LabRecord & { kind: 'bin' } => ({
    kind: 'bin', id: id(), name, partId: part.id, prices: [{ amount, at: at(1) }], criteria: [{ what: 'measure', workloadId: workload.id, measure: 'score', tuneId: tune.id, bound: 'at least', value }],
  })
  const [dear, cheap] = [bin('dear', 400, 105), bin('cheap', 300, 104)]
  const starts = [[100, 102], [106, 106], [107]].flatMap((values, place): readonly LabRecord[] => {
    const [startId, inForceId] = [id(), id()]
    return [
      { kind: 'start', id: startId, rigId: north.id, assemblyId: first.id, tuneId: tune.id, at: at(9 + place), how: 'cold', result: 'started', conditions: { ambient: 20 + place } },
      { kind: 'in force', id: inForceId, startId, tuneId: tune.id, known: 'read back', settings: [] },
      ...values.map((value, order): LabRecord => ({ kind: 'run', id: id(), startId, inForceId, workloadId: workload.id, order, outcome: 'scored', measures: [{ name: 'score', value }] })),
      ...(place === 2 ? [{ kind: 'run', id: id(), startId, inForceId, workloadId: workload.id, order: 5, outcome: 'hung', measures: [] } satisfies LabRecord] : []),
    ]
  })
  lab.apply({ ...BY, items: adding(part, a, b, rest, north, south, first, second, emptied, third, workload, tune, dear, cheap, ...starts) })
  return { lab, part, a, b, rest, north, south, dear, cheap }
}

describe('a part whole', () => {
  test('has each sample with its seat now, its runs, and where its start means put it', () => {
    const { lab, part, a, b, rest, south, dear, cheap } = fill()
    const whole = lab.samples.part(part.id)
    expect(whole.bins.map(({ bin, criteria }) => [bin.id, criteria[0]?.text])).toEqual([
      [dear.id, 'score of tile render at least 105 points, at eco'],
      [cheap.id, 'score of tile render at least 104 points, at eco'],
    ])
    const of = (id: string) => whole.samples.find(({ sample }) => sample.id === id)
    // Start means 101, 106 and 107: their mean is 104.67; the mean of the five runs would be 104.2.
    expect(of(a.id)).toMatchObject({ starts: 3, runs: 6, seat: null, sorting: { suggestedId: cheap.id, openAboveIds: [] } })
    expect(of(a.id)?.sorting.bins[0]?.criteria[0]).toMatchObject({ state: 'not met', low: 100, high: 107, starts: 3, runs: 5, failed: 1 })
    expect(of(a.id)?.sorting.bins[0]?.criteria[0]?.mean).toBeCloseTo(314 / 3, 12)
    expect(of(b.id)).toMatchObject({ starts: 0, runs: 0, seat: { rigId: south.id, rig: 'south bench', since: at(14) }, sorting: { suggestedId: null, openAboveIds: [dear.id, cheap.id] } })
    expect(of(rest.id)?.seat).toBeNull()
  })

  test('is worked out anew after a change', () => {
    const { lab, part, cheap } = fill()
    expect(lab.samples.part(part.id).bins).toHaveLength(2)
    lab.apply({ ...BY, items: [{ before: cheap, after: null }] })
    expect(lab.samples.part(part.id).bins).toHaveLength(1)
  })
})

test('a sample whole says where it sat and what it ran', () => {
  const { lab, a, b, north, south } = fill()
  expect(lab.samples.sample(a.id)).toMatchObject({
    starts: 3, runs: 6, failed: 1, setAside: 0, lastStart: at(11), workloads: [{ name: 'tile render', runs: 6, failed: 1 }],
    stretches: [{ rigId: north.id, since: at(8), until: at(12), starts: 3 }],
  })
  expect(lab.samples.sample(b.id).stretches.map(({ rigId, since, until }) => [rigId, since, until])).toEqual([
    [south.id, at(14), null],
    [north.id, at(12), at(14)],
  ])
})

test('a rig whole has its starts newest first, and the conditions that carry forward', () => {
  const { lab, north, south } = fill()
  const whole = lab.samples.rig(north.id)
  expect(whole.starts.map(({ at: when, runs, failed }) => [when, runs, failed])).toEqual([[at(11), 2, 1], [at(10), 2, 0], [at(9), 2, 0]])
  expect(whole.last?.conditions).toEqual({ ambient: 22 })
  expect(lab.samples.rig(south.id)).toEqual({ starts: [], total: 0, last: null })
})

test('what is not there is refused with a sentence', () => {
  const { lab, a } = fill()
  expect(() => lab.samples.part(a.id)).toThrow(`there is no part ${a.id}.`)
})
