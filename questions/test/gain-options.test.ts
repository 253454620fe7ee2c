// What the one who asks for a computation may add changes nothing in the answer.
import { expect, test } from 'vitest'
import { snapshotDigest } from '@guardband/model'
import { compute } from '../gain/compute.ts'
import { checked, cleanLab } from './snapshots.ts'

test('the share done rises step by step with the rows of estimates and ends at all of it', () => {
  const lab = checked(cleanLab())
  const told: number[] = []
  const answer = compute(lab, { onProgress: (done) => told.push(done) })
  const rows = answer.estimates.filter(({ role, scope }) => (role === 'workload' || role === 'group') && scope === 'these samples').length
  expect(rows).toBeGreaterThan(1)
  expect(told).toEqual(Array.from({ length: rows }, (_, index) => (index + 1) / rows))
  expect(answer).toEqual(compute(lab))
})

test('a digest that is known already is carried as it is, and computed where it is not', () => {
  const lab = checked(cleanLab())
  expect(compute(lab).snapshotDigest).toBe(snapshotDigest(lab))
  expect(compute(lab, { digest: 'a'.repeat(64) })).toEqual({ ...compute(lab), snapshotDigest: 'a'.repeat(64) })
})
