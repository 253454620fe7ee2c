// What the grid makes of what is typed, where the cursor goes, and the order of starts it draws up.
import { describe, expect, it, test } from 'vitest'
import type { Run } from '@guardband/model/records/run'
import type { Measure, Workload } from '@guardband/model/records/workload'
import { costOfOrder, drawUpOrder, inTurns, moved } from '../pages/enter/draw-up.ts'
import { readCell } from '../pages/enter/entering.ts'
import { ACT_KEYS, OUTCOME_KEYS, pressOf } from '../pages/enter/keys.ts'
import { besideCell, nextCell } from '../pages/enter/next-cell.ts'
import { readTyped } from '../pages/enter/typed-value.ts'

const TIME: Measure = { name: 'time', unit: 's', direction: 'lower is better' }
const HEAT: Measure = { name: 'core', unit: 'degC', direction: 'lower is better' }
const WORKLOAD: Workload = { kind: 'workload', id: 'w', name: 'code build', measures: [TIME, { name: 'power', unit: 'W', direction: 'lower is better' }] }
const RUN: Run = { kind: 'run', id: 'r', startId: 's', inForceId: 'f', workloadId: 'w', order: 0, outcome: 'scored', measures: [{ name: 'time', value: 41.5 }] }
const PLAIN = { ctrlKey: false, altKey: false, metaKey: false }

const cost = (of: string) => (of === 'sample change' ? { hand: 14, machine: 5 } : of === 'tune change' ? { hand: 1, machine: 2 } : { hand: 0, machine: 4 })

describe('a typed figure', () => {
  test.each([['41.5', 41.5], ['41,5', 41.5], [' 0.25 ', 0.25], ['1200', 1200]])('"%s" reads as %d', (text, value) => {
    expect(readTyped(text, TIME, [])).toEqual({ reads: 'value', value })
  })

  test.each(['0', '-3', '0,0'])('"%s" is refused where the unit compares as a ratio', (text) => {
    expect(readTyped(text, TIME, [])).toMatchObject({ reads: 'refused', sentence: expect.stringContaining('above zero') })
  })

  test.each(['0', '-12.5'])('"%s" is fine in degrees', (text) => {
    expect(readTyped(text, HEAT, [])).toMatchObject({ reads: 'value' })
  })

  test.each(['4.1.5', '1e3', 'forty', '1,200.5'])('"%s" is refused as no figure', (text) => {
    expect(readTyped(text, TIME, [])).toMatchObject({ reads: 'refused', sentence: expect.stringContaining('must be a figure') })
  })

  test.each([
    ['415', 'about 10 times'],
    ['4.15', 'about a tenth of'],
    ['41500', 'about 1000 times what it usually reads, 41.5 s. Another unit?'],
    ['0.0415', 'about a 1000th of'],
  ])('%s beside 41.5 is questioned', (text, words) => {
    expect(readTyped(text, TIME, [41.4, 41.5, 41.7])).toMatchObject({ reads: 'value', question: expect.stringContaining(words) })
  })

  test.each(['52', '30', '83', '20.8'])('%s beside 41.5 is not: runs of one workload may differ so much', (text) => {
    expect(readTyped(text, TIME, [41.5])).not.toHaveProperty('question')
  })

  it('one slip among its neighbours does not make the right ones questionable', () => {
    expect(readTyped('41.6', TIME, [41.5, 415, 41.4])).not.toHaveProperty('question')
  })
})

describe('a cell', () => {
  const at = { startId: 's', workload: WORKLOAD, outcome: undefined, neighbours: () => [] }

  it('becomes a run with all its measures', () => {
    expect(readCell({ ...at, run: undefined, texts: ['41,5', '88'] })).toEqual({ reads: 'entry', entry: { what: 'run', startId: 's', workloadId: 'w', outcome: 'scored', measures: [{ name: 'time', value: 41.5 }, { name: 'power', value: 88 }] } })
  })

  it('with a letter is a failure that keeps the figure typed before it', () => {
    expect(readCell({ ...at, run: undefined, texts: ['52', ''], outcome: 'throttled' })).toMatchObject({ entry: { outcome: 'throttled', measures: [{ name: 'time', value: 52 }] } })
    expect(readCell({ ...at, run: undefined, texts: ['', ''], outcome: 'hung' })).toMatchObject({ entry: { outcome: 'hung', measures: [] } })
  })

  it('left as it was saved changes nothing', () => {
    expect(readCell({ ...at, run: RUN, texts: ['41.5', ''] })).toEqual({ reads: 'same' })
    expect(readCell({ ...at, run: undefined, texts: ['', ' '] })).toEqual({ reads: 'same' })
  })

  it('corrected is the same run, and a figure in place of a failure scores', () => {
    expect(readCell({ ...at, run: RUN, texts: ['14.5', ''] })).toMatchObject({ entry: { what: 'correct run', runId: 'r', outcome: 'scored', measures: [{ name: 'time', value: 14.5 }] } })
    expect(readCell({ ...at, run: { ...RUN, outcome: 'hung', measures: [], phase: 'heavy' }, texts: ['14.5', ''] })).toMatchObject({ entry: { outcome: 'scored' } })
    expect(readCell({ ...at, run: { ...RUN, outcome: 'hung', measures: [], phase: 'heavy' }, texts: ['14.5', ''] })).not.toMatchObject({ entry: { phase: 'heavy' } })
  })

  it('is not emptied: a run does not vanish by that', () => {
    expect(readCell({ ...at, run: RUN, texts: ['', ''] })).toMatchObject({ reads: 'refused' })
  })
})

describe('keys', () => {
  it('each do one thing, and none with a modifier', () => {
    const letters = [...OUTCOME_KEYS, ...ACT_KEYS].map(({ key }) => key)
    expect(new Set(letters).size).toBe(letters.length)
    for (const key of letters) expect([pressOf({ key, ...PLAIN }), pressOf({ key, ...PLAIN, ctrlKey: true })]).toEqual([expect.anything(), undefined])
    expect(pressOf({ key: 'H', ...PLAIN })).toEqual({ does: 'end', outcome: 'hung' })
    expect(pressOf({ key: '4', ...PLAIN })).toBeUndefined()
  })
})

describe('the cursor', () => {
  const open = { counts: [0, 0, 0], repeats: 2, asked: new Set<number>() }

  it('goes down the workloads and on to the next repeat, or across', () => {
    expect(nextCell({ ...open, counts: [1, 0, 0] }, { row: 0, column: 0 }, 'down')).toEqual({ row: 1, column: 0 })
    expect(nextCell({ ...open, counts: [1, 1, 1] }, { row: 2, column: 0 }, 'down')).toEqual({ row: 0, column: 1 })
    expect(nextCell({ ...open, counts: [1, 0, 0] }, { row: 0, column: 0 }, 'across')).toEqual({ row: 0, column: 1 })
  })

  it('passes what is filled, comes to a questioned figure last, and ends when all is entered', () => {
    expect(nextCell({ ...open, counts: [1, 1, 0] }, { row: 0, column: 0 }, 'down')).toEqual({ row: 2, column: 0 })
    const asked = { ...open, counts: [2, 0, 2], asked: new Set([1]) }
    expect(nextCell(asked, { row: 2, column: 1 }, 'down')).toEqual({ row: 1, column: 0 })
    expect(nextCell({ ...open, counts: [2, 2, 3] }, { row: 2, column: 1 }, 'down')).toBeNull()
  })

  it('stays within the grid', () => {
    const size = { rows: 3, columns: 2 }
    expect(besideCell({ row: 0, column: 0 }, 'ArrowUp', size)).toEqual({ row: 0, column: 0 })
    expect(besideCell({ row: 2, column: 1 }, 'ArrowRight', size)).toEqual({ row: 2, column: 1 })
    expect(besideCell({ row: 1, column: 0 }, 'ArrowRight', size)).toEqual({ row: 1, column: 1 })
  })
})

describe('the order of starts', () => {
  const samples = inTurns([{ id: 'a1', partId: 'a' }, { id: 'a2', partId: 'a' }, { id: 'b1', partId: 'b' }, { id: 'b2', partId: 'b' }])
  const tunes = ['x', 'y']
  const costed = (rounds: Parameters<typeof drawUpOrder>[0]['rounds'], starts = 3) => costOfOrder(drawUpOrder({ samples, tunes, starts, rounds }).map((one) => ({ ...one, how: 'cold' as const })), new Set(['a1']), cost)

  it('takes parts in turns', () => {
    expect(samples).toEqual(['a1', 'b1', 'a2', 'b2'])
  })

  test.each(['once', 'there and back', 'every round'] as const)('"%s" holds each combination as often as asked for', (rounds) => {
    for (const starts of [1, 2, 3, 5]) {
      const order = drawUpOrder({ samples, tunes, starts, rounds })
      for (const sampleId of samples) for (const tuneId of tunes) expect(order.filter((one) => one.sampleId === sampleId && one.tuneId === tuneId)).toHaveLength(starts)
    }
  })

  it('turns tunes around, so that neither is always first', () => {
    expect(drawUpOrder({ samples: ['a1'], tunes, starts: 3, rounds: 'once' }).map(({ tuneId }) => tuneId).join('')).toBe('xyyxxy')
  })

  // Counted by hand: four stays put in three; there and back takes the last one twice in a row; three rounds likewise at both turns.
  test.each([['once', 3], ['there and back', 6], ['every round', 9]] as const)('"%s" changes samples %d times', (rounds, changes) => {
    const found = costed(rounds)
    expect([found.sampleChanges, found.powerOns]).toEqual([changes, 24])
    expect(found.handMinutes).toBe(changes * 14 + found.tuneChanges)
  })

  it('counts what must be put in first where something else sits in the rig', () => {
    const order = [{ sampleId: 'a1', tuneId: 'x', how: 'cold' as const }]
    expect([costOfOrder(order, new Set(), cost).sampleChanges, costOfOrder(order, new Set(['a1']), cost).sampleChanges]).toEqual([1, 0])
  })

  it('can be changed by hand', () => {
    expect([moved(['a', 'b', 'c'], 1, -1), moved(['a', 'b', 'c'], 1, 1), moved(['a', 'b'], 0, -1)]).toEqual([['b', 'a', 'c'], ['a', 'c', 'b'], ['a', 'b']])
  })
})
