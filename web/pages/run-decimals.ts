// With how many decimals a list of runs writes a measure: as many as the finest of its readings there, since a meter prints 64.0 and stores 64.
import type { RunRow } from '@guardband/model/api'
import { decimalsOf } from '../pieces/amounts.ts'

type Measure = RunRow['measures'][number]

export type RunDecimals = (workload: string, measure: Measure) => number

export function runDecimals(rows: readonly RunRow[]): RunDecimals {
  const finest = new Map<string, number>()
  for (const { workload, measures } of rows) {
    for (const measure of measures) {
      const key = keyOf(workload, measure)
      finest.set(key, Math.max(finest.get(key) ?? 0, decimalsOf(measure.value)))
    }
  }
  return (workload, measure) => finest.get(keyOf(workload, measure)) ?? decimalsOf(measure.value)
}

function keyOf(workload: string, { name, unit }: Measure): string {
  return JSON.stringify([workload, name, unit])
}
