// How the ledger of runs is put together.
import { describe, expect, test } from 'vitest'
import { runGroups } from '../pages/run-groups.ts'
import { RUNS } from './fixtures/lab.ts'

const [run] = RUNS

describe('runs by start', () => {
  test('every run stands in one group, in the order it came', () => {
    expect(runGroups(RUNS).flatMap((group) => group.rows)).toEqual(RUNS)
  })

  test('what changes within a start begins a new group, so that no run stands under another tune', () => {
    const rows = [run, { ...run, workload: 'code build' }, { ...run, tune: 'eco' }, { ...run, tune: null }, run]
    expect(runGroups(rows).map((group) => [group.tune, group.rows.length])).toEqual([[run.tune, 2], ['eco', 1], [null, 1], [run.tune, 1]])
  })

  test.each(['startId', 'sample', 'rig', 'asked', 'known'] as const)('runs that differ in %s are not under one heading', (key) => {
    expect(runGroups([run, { ...run, [key]: 'another' }])).toHaveLength(2)
  })
})
