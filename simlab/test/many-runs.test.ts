import { gainSnapshotSchema, recordSchema } from '@guardband/model'
import type { LabRecord } from '@guardband/model'
import { describe, expect, it } from 'vitest'
import { manyRuns, manyRunsRecords, readScenarios, simulateLab, snapshotRecords } from '../index.ts'

const values = (records: readonly LabRecord[]): readonly number[] =>
  records.flatMap((record) => (record.kind === 'run' ? record.measures.map(({ value }) => value) : [])).toSorted((a, b) => a - b)

describe('manyRuns', () => {
  it('gives 10,000 runs of 20 samples when asked for as many', () => {
    const snapshot = manyRuns(10_000)
    expect(gainSnapshotSchema.safeParse(snapshot).error).toBeUndefined()
    expect(snapshot.runs.id).toHaveLength(10_000)
    expect(snapshot.samples).toHaveLength(20)
  })

  it('holds the same scores as records and as a snapshot', () => {
    const { records, questionId } = manyRunsRecords(1000)
    for (const record of records) expect(recordSchema.parse(record)).toEqual(record)
    expect(values(records)).toEqual(manyRuns(1000).runs.value.toSorted((a, b) => (a ?? 0) - (b ?? 0)))
    expect(records.find(({ id }) => id === questionId)?.kind).toBe('question')
  })
})

describe('snapshotRecords', () => {
  it.each(readScenarios())('turns $name into valid records with ids of their own', (scenario) => {
    const { snapshot } = simulateLab(scenario, 0)
    const { records } = snapshotRecords(snapshot, scenario.seed)
    for (const record of records) expect(recordSchema.safeParse(record).error).toBeUndefined()
    expect(new Set(records.map(({ id }) => id)).size).toBe(records.length)
    expect(records.filter(({ kind }) => kind === 'start')).toHaveLength(snapshot.starts.length)
    expect(records.filter(({ kind }) => kind === 'run')).toHaveLength(snapshot.runs.id.length)
    expect(records.filter(({ kind }) => kind === 'sample' ).length).toBe(snapshot.samples.length + 2)
  })
})
