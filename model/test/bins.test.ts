// Samples against bins, by cases worked by hand.
import { describe, expect, test } from 'vitest'
import type { Bin } from '../records/parts.ts'
import type { Outcome } from '../records/run.ts'
import { criterionFinding, dearestFirst, latestPrice, sortSample, type BinRun, type BinStart } from '../bins.ts'

const id = (number: number): string => `0190a000-0000-7000-8000-${String(number).padStart(12, '0')}`
const [RENDER, BUILD, ECO, FAST] = [id(1), id(2), id(11), id(12)]

function run(value: number | null, more: { readonly workloadId?: string; readonly tuneId?: string | null; readonly outcome?: Outcome; readonly setAside?: boolean } = {}): BinRun {
  return { workloadId: RENDER, tuneId: ECO, outcome: 'scored', setAside: false, ...more, measures: value === null ? [] : [{ name: 'score', value }] }
}
const start = (runs: readonly BinRun[], more: { readonly askedId?: string; readonly cameUp?: boolean } = {}): BinStart => ({ askedId: ECO, cameUp: true, ...more, runs })

const atLeast = (value: number) => ({ what: 'measure', workloadId: RENDER, measure: 'score', tuneId: ECO, bound: 'at least', value }) as const
const clean = (count: number) => ({ what: 'clean runs', tuneId: ECO, count }) as const
const bin = (number: number, price: number | null, criteria: Bin['criteria']): Bin => ({ kind: 'bin', id: id(number), name: `bin ${number}`, partId: id(99), prices: price === null ? [] : [{ amount: price, at: '2026-11-01T00:00:00Z' }], criteria })

describe('a measure', () => {
  // Start means 100, 104 and 112: their mean is 105.33...; the mean of the six runs would be 103.33...
  const starts = [start([run(98), run(100), run(102)]), start([run(104)]), start([run(110), run(114)])]

  test('is the mean of start means, with the lowest and highest run beside it', () => {
    const found = criterionFinding(atLeast(105), starts)
    expect(found).toMatchObject({ state: 'met', low: 98, high: 114, starts: 3, runs: 6, failed: 0 })
    expect(found.mean).toBeCloseTo(316 / 3, 12)
  })

  test('at the bound is met on either side of it', () => {
    expect(criterionFinding(atLeast(104), [starts[1] ?? start([])]).state).toBe('met')
    expect(criterionFinding({ ...atLeast(104), bound: 'at most' }, [starts[1] ?? start([])]).state).toBe('met')
    expect(criterionFinding({ ...atLeast(105), bound: 'at most' }, starts).state).toBe('not met')
  })

  test('at another tune, of another workload or set aside is no evidence', () => {
    const found = criterionFinding(atLeast(1), [start([run(9, { tuneId: FAST }), run(9, { tuneId: null }), run(9, { workloadId: BUILD }), run(9, { setAside: true })])])
    expect(found).toMatchObject({ state: 'open', mean: null, low: null, starts: 0, runs: 0, setAside: 1 })
  })

  test('where every run failed is not met; a run that a person stopped says nothing', () => {
    expect(criterionFinding(atLeast(1), [start([run(null, { outcome: 'machine reset' })])])).toMatchObject({ state: 'not met', mean: null, failed: 1 })
    expect(criterionFinding(atLeast(1), [start([run(null, { outcome: 'stopped by a person' })])])).toMatchObject({ state: 'open', failed: 0 })
  })

  test('without a tune in the criterion says how many tunes it mixes', () => {
    const { tuneId: _left, ...anyTune } = atLeast(1)
    expect(criterionFinding(anyTune, [start([run(2), run(4, { tuneId: FAST })])])).toMatchObject({ state: 'met', mean: 3, tunes: 2 })
    expect(criterionFinding(atLeast(1), starts).tunes).toBe(0)
  })
})

describe('clean runs', () => {
  test('short of the count are open, at it met, and one failure is enough for not met', () => {
    expect(criterionFinding(clean(3), [start([run(1), run(1)])])).toMatchObject({ state: 'open', runs: 2, starts: 1 })
    expect(criterionFinding(clean(3), [start([run(1)]), start([run(1), run(null, { outcome: 'passed', workloadId: BUILD })])])).toMatchObject({ state: 'met', runs: 3, starts: 2 })
    expect(criterionFinding(clean(1), [start([run(1), run(null, { outcome: 'errors' })])])).toMatchObject({ state: 'not met', runs: 1, failed: 1 })
  })

  test('of one workload leave failures of others out', () => {
    const criterion = { ...clean(1), workloadId: RENDER }
    expect(criterionFinding(criterion, [start([run(1), run(null, { outcome: 'errors', workloadId: BUILD })])]).state).toBe('met')
  })

  test('a start that was asked for the tune and did not come up at it is one failure, however many runs tell of it', () => {
    const fallback = start([run(null, { tuneId: null, outcome: 'fallback start' }), run(null, { tuneId: null, outcome: 'fallback start', workloadId: BUILD })], { cameUp: false })
    expect(criterionFinding(clean(1), [start([run(1)]), fallback])).toMatchObject({ state: 'not met', failed: 1 })
    expect(criterionFinding({ ...clean(1), tuneId: FAST }, [fallback])).toMatchObject({ state: 'open', failed: 0 })
  })

  test('failures at another tune, set aside, or stopped by a person do not count', () => {
    const runs = [run(1), run(null, { outcome: 'hung', tuneId: FAST }), run(null, { outcome: 'hung', setAside: true }), run(null, { outcome: 'stopped by a person' })]
    expect(criterionFinding(clean(1), [start(runs)])).toMatchObject({ state: 'met', failed: 0, setAside: 1 })
  })
})

describe('sorting', () => {
  const bins = [bin(21, 300, []), bin(22, 460, [atLeast(100), clean(2)]), bin(23, 389, [atLeast(90)])]

  test('suggests the dearest bin whose criteria are all met', () => {
    expect(sortSample(bins, [start([run(101), run(103)])])).toMatchObject({ suggestedId: id(22), openAboveIds: [] })
    expect(sortSample(bins, [start([run(95), run(97)])])).toMatchObject({ suggestedId: id(23), openAboveIds: [] })
    expect(sortSample(bins, [start([run(80)])])).toMatchObject({ suggestedId: id(21), openAboveIds: [] })
  })

  test('names dearer bins that more runs could still open', () => {
    const { suggestedId, openAboveIds, bins: found } = sortSample(bins, [start([run(101)])])
    expect({ suggestedId, openAboveIds }).toEqual({ suggestedId: id(23), openAboveIds: [id(22)] })
    expect(found.map(({ binId, state }) => [binId, state])).toEqual([[id(22), 'open'], [id(23), 'met'], [id(21), 'met']])
  })

  test('without a bin that is met suggests none', () => {
    expect(sortSample([bin(22, 460, [atLeast(100)])], [])).toMatchObject({ suggestedId: null, openAboveIds: [id(22)] })
  })

  test('holds the latest price by its date, not its place; a bin without one comes last', () => {
    const fallen = { ...bin(24, null, []), prices: [{ amount: 200, at: '2026-11-05T00:00:00Z' }, { amount: 900, at: '2026-10-01T00:00:00Z' }] }
    expect(latestPrice(fallen)?.amount).toBe(200)
    expect(dearestFirst([bin(25, null, []), fallen, ...bins]).map((one) => one.id)).toEqual([id(22), id(23), id(21), id(24), id(25)])
  })
})
