// Large labs for speed benches: about as many runs as asked for, as a snapshot and as records.
import type { GainSnapshot } from '@guardband/model'
import { simulateSnapshot } from './emit.ts'
import type { Scenario } from './scenario.ts'
import { snapshotRecords } from './snapshot-records.ts'
import type { SnapshotRecords } from './snapshot-records.ts'

/** Both sides on the same samples, 5 starts each of 10 workloads x 5 repeats: 500 runs a sample, two samples at least. */
export function manyRuns(count: number): GainSnapshot {
  return simulateSnapshot(manyRunsScenario(count), 0)
}

/** The records behind `manyRuns(count)`. */
export function manyRunsRecords(count: number): SnapshotRecords {
  const scenario = manyRunsScenario(count)
  return snapshotRecords(simulateSnapshot(scenario, 0), scenario.seed)
}

const STARTS = 5
const WORKLOADS = 10
const REPEATS = 5

function manyRunsScenario(count: number): Scenario {
  const samples = Math.max(2, Math.round(count / (2 * STARTS * WORKLOADS * REPEATS)))
  const starts = Array.from({ length: samples }, () => STARTS)
  return {
    name: 'gain-many-runs',
    why: 'Many runs',
    seed: 10_000,
    design: {
      samples: 'same',
      starts: { a: starts, b: starts },
      repeats: REPEATS,
      order: 'interleaved',
      workloads: Array.from({ length: WORKLOADS }, (_, index) => ({
        label: `workload ${index + 1}`,
        group: index % 2 === 0 ? 'many cores' : 'few cores',
        ...(index % 3 === 0 ? ({ measure: 'time', unit: 's', direction: 'lower is better' } as const) : ({ measure: 'score', unit: 'points', direction: 'higher is better' } as const)),
        level: 100 * (index + 1),
        weight: 1 + (index % 2),
        gain: 0.002 * index,
      })),
    },
    spreads: { sample: 0.008, sampleWorkload: 0.003, sampleSide: 0.003, sampleSideWorkload: 0.002, start: 0.004, startWorkload: 0.0025, repeat: 0.003, startFactorB: 1 },
    tails: 'normal',
    drift: 0,
    missing: 0,
    failed: 0,
    judge: { scopes: [], noInterval: [] },
  }
}
