// A start in words.
import { conditionsSchema, type Start } from '@guardband/model/records/start'
import { expect, test } from 'vitest'
import { CONDITION_FIELDS, startClockText } from '../pages/start-facts.tsx'

test('every condition that a start can hold is shown and can be corrected', () => {
  expect(CONDITION_FIELDS.map(({ key }) => key).toSorted()).toEqual(Object.keys(conditionsSchema.shape).toSorted())
})

test('how the rig\'s clock stood is told with its bound, and whose it was held against', () => {
  expect(clockOf({ against: '0190a000-0000-7000-8000-000000000001', offset: 0.0008, within: 0.0012 })).toBe('as the hub\'s, within 0.001 s')
  expect(clockOf({ against: '0190a000-0000-7000-8000-000000000001', offset: 734.2, within: 0.04 })).toBe('13 min behind the hub\'s, give or take 0.04 s; times here are its own')
  expect(clockOf({ against: 'bench companion', offset: -2.53, within: 0.04 })).toBe('2.5 s ahead of bench companion\'s, give or take 0.04 s; times here are its own')
})

function clockOf(clock: NonNullable<Start['clock']>): string {
  return startClockText({ kind: 'start', id: '0190a000-0000-7000-8000-000000000002', rigId: '0190a000-0000-7000-8000-000000000003', assemblyId: '0190a000-0000-7000-8000-000000000004', how: 'cold', result: 'started', conditions: {}, clock })
}
