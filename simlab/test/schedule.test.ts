import { describe, expect, it } from 'vitest'
import { readScenarios } from '../index.ts'
import { scheduleStarts } from '../schedule.ts'
import type { Design } from '../schedule.ts'

const scenarios = readScenarios()
const design = (rest: Partial<Design>): Design => ({ ...scenarios[0].design, ...rest })
const text = (given: Design): string => scheduleStarts(given).map(({ side, sample }) => `${'AB'[side]}${sample + 1}`).join(' ')

describe('scheduleStarts', () => {
  it('gives every sample its planned starts on every side', () => {
    for (const scenario of scenarios) {
      const { starts } = scenario.design
      expect(scheduleStarts(scenario.design)).toHaveLength([...starts.a, ...starts.b].reduce((sum, count) => sum + count, 0))
    }
  })

  it('turns the sides about on each sample when interleaved', () => {
    expect(text(design({ samples: 'same', order: 'interleaved', starts: { a: [2, 2], b: [2, 2] } }))).toBe('A1 B1 B1 A1 A2 B2 B2 A2')
  })

  it('swaps different samples in turn and spreads unequal counts over the campaign', () => {
    expect(text(design({ samples: 'different', order: 'interleaved', starts: { a: [1, 1], b: [1, 1] } }))).toBe('A1 B3 B4 A2')
    expect(text(design({ samples: 'different', order: 'interleaved', starts: { a: [1, 1, 1], b: [1, 1, 1, 1, 1, 1] } }))).toBe('B4 A1 B5 B6 A2 B7 B8 A3 B9')
  })

  it('runs every second round backwards', () => {
    expect(text(design({ samples: 'different', order: 'interleaved rounds', starts: { a: [2], b: [2] } }))).toBe('A1 B2 B2 A1')
  })

  it('puts all starts of A first when order and side go together', () => {
    expect(text(design({ samples: 'same', order: 'A before B', starts: { a: [2, 2], b: [2, 2] } }))).toBe('A1 A2 A2 A1 B1 B2 B2 B1')
  })

  it('runs B later on each sample without A being over', () => {
    expect(text(design({ samples: 'same', order: 'B later', starts: { a: [5, 2], b: [5, 2] } }))).toBe('A1 A1 A1 A1 B1 A1 B1 B1 B1 B1 A2 B2 A2 B2')
  })
})
