// A launch comparison's lab before its day, and what that day measures: 2 parts x 2 samples x 2 tunes x 8 workloads x 3 starts x 2 repeats.
import type { LabRecord, Outcome, Run, Workload } from '@guardband/model'

export interface DayLab {
  readonly records: readonly LabRecord[]
  readonly workloads: readonly Workload[]
  /** Two of each of two parts, in the order in which the page lists them. */
  readonly samples: readonly string[]
  readonly tunes: readonly string[]
  readonly mountId: string
}

/** The first processor is in the rig, under its cooler. */
export function dayLab(newId: () => string): DayLab {
  const [rigId, coolerPart, cooler, assemblyId, mountId, suiteId] = [newId(), newId(), newId(), newId(), newId(), newId()]
  const parts = ['Quillon 14', 'Quillon 14R'].map((name): LabRecord => ({ kind: 'part', id: newId(), name, slot: 'processor', prices: [] }))
  const samples = parts.flatMap(({ id: partId }, part) => [1, 2].map((number): LabRecord => ({ kind: 'sample', id: newId(), partId, label: `${part === 0 ? 'Q' : 'R'}14-${number}`, origin: 'retail', picked: 'at random', status: 'bench' })))
  const tunes = ['as delivered', 'quiet 95 W'].map((name, place): LabRecord => ({ kind: 'tune', id: newId(), name, settings: [{ key: 'package power limit', scope: { level: 'package' }, asked: { shape: 'scalar', value: [65, 95][place], unit: 'W' } }] }))
  const workloads = WORKLOADS.map(([name, unit], place): Workload => ({
    kind: 'workload', id: newId(), name,
    measures: [
      { name: unit === 's' ? 'time' : 'score', unit, direction: unit === 's' ? 'lower is better' : 'higher is better' },
      // One workload has its power read off a meter as well.
      ...(place === 0 ? [{ name: 'power', unit: 'W', direction: 'lower is better' as const }] : []),
    ],
  }))
  return {
    records: [
      { kind: 'rig', id: rigId, name: 'north bench' }, ...parts, ...samples, ...tunes, ...workloads,
      { kind: 'part', id: coolerPart, name: 'Burrow 120', slot: 'cooler', prices: [] },
      { kind: 'sample', id: cooler, partId: coolerPart, label: 'B120-1', origin: 'unknown', picked: 'unknown', status: 'bench' },
      { kind: 'assembly', id: assemblyId, rigId, since: '2026-11-02T08:00:00Z', slots: [{ slot: 'processor', sampleId: samples[0].id }, { slot: 'cooler', sampleId: cooler }] },
      { kind: 'mount', id: mountId, assemblyId, at: '2026-11-02T08:30:00Z', paste: 'grey, a pea' },
      { kind: 'suite', id: suiteId, name: 'Field crew suite', items: workloads.map(({ id, measures }) => ({ workloadId: id, measure: measures[0].name, weight: 1 })) },
      { kind: 'cost', id: newId(), of: 'sample change', handMinutes: 14, machineMinutes: 5 },
      { kind: 'cost', id: newId(), of: 'tune change', handMinutes: 1, machineMinutes: 2 },
    ],
    workloads,
    samples: samples.map(({ id }) => id),
    tunes: tunes.map(({ id }) => id),
    mountId,
  }
}

const WORKLOADS = [
  ['tile render, all cores', 'points'], ['audio bounce, one core', 's'], ['photo stack', 's'], ['code build', 's'],
  ['archive pack', 'MB/s'], ['map scene, low resolution', 'fps'], ['field log sort', 's'], ['voice clean-up', 's'],
] as const
const LEVELS = [2122, 61.4, 40.9, 153, 412, 187.5, 22.8, 9.46]

export interface Ending {
  readonly outcome: Outcome
  readonly measures: Run['measures']
}

/** Six runs of the day fail. */
const FAILURES = new Map<string, Outcome>([['2-3-1', 'hung'], ['5-0-0', 'program died'], ['9-7-1', 'errors'], ['13-2-0', 'machine reset'], ['18-5-1', 'wrong result'], ['23-6-1', 'device lost']])

/** What a run of the day reads, from 0 in start, workload and repeat; every figure is another one. */
export function endingOf(start: number, workload: number, repeat: number, measures: Workload['measures']): Ending {
  const failed = FAILURES.get(`${start}-${workload}-${repeat}`)
  if (failed !== undefined) return { outcome: failed, measures: [] }
  const value = LEVELS[workload] * (1 + 0.002 * start + 0.0007 * repeat)
  return { outcome: 'scored', measures: measures.map(({ name }, place) => ({ name, value: Number((place === 0 ? value : 88 + 0.1 * start + 0.3 * repeat).toPrecision(4)) })) }
}
