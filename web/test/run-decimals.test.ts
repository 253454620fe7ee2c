// Decimals in lists of runs.
import type { RunRow } from '@guardband/model/api'
import { expect, test } from 'vitest'
import { readingText } from '../pieces/amounts.ts'
import { runDecimals } from '../pages/run-decimals.ts'

const run = (workload: string, value: number, name = 'time'): RunRow => ({
  id: `${workload} ${value}`, at: null, startId: 'start', startLabel: 'cold start', rig: 'North', sample: 'Q14-01', tune: null, asked: null, known: 'assumed', workload, outcome: 'scored', place: null, measures: [{ name, value, unit: 's' }], setAside: null,
})

const written = (rows: readonly RunRow[]): readonly string[] => {
  const decimals = runDecimals(rows)
  return rows.flatMap((row) => row.measures.map((measure) => readingText(measure.value, measure.unit, decimals(row.workload, measure))))
}

test('a whole reading among finer ones of its workload gets their decimals', () => {
  expect(written([run('render', 64), run('render', 98.2)])).toEqual(['64.0 s', '98.2 s'])
})

test('another workload, and another measure, keeps its own decimals', () => {
  expect(written([run('render', 64), run('build', 98.25), run('render', 7.5, 'pause')])).toEqual(['64 s', '98.25 s', '7.5 s'])
})
