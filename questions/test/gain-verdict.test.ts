// Verdict words at their borders, headline sentences word for word, the plan that would settle it worked by hand.
import { describe, expect, test } from 'vitest'
import { headlineText, type Answer, type GainSnapshot, type Settle } from '@guardband/model'
import { compute } from '../gain/compute.ts'
import { headline, type HeadlineInput } from '../gain/headline.ts'
import { mainQuality, matters, qualityOf, type Quality } from '../gain/quality.ts'
import { standing, verdictOf, NOT_FAIR } from '../gain/verdict.ts'
import { checked, cleanLab, inTurns, snapshotOf, swapped, withStarts, type PlannedRun } from './snapshots.ts'

/** Ends that doubles hold exactly, so that a border is a border. */
function at(low: number, high: number) {
  return standing({ estimate: (low + high) / 2, halfWidth: (high - low) / 2, threshold: 1 })
}

describe('where an interval lies', () => {
  test.each([
    [1.25, 2, 'faster'],
    [1, 2, 'faster-unclear'],
    [0.5, 2, 'faster-unclear'],
    [0.25, 1, 'faster-unclear'],
    [0.25, 0.75, 'faster-small'],
    [0, 0.5, 'same'],
    [-0.5, 0.5, 'same'],
    [-0.5, 1, 'open'],
    [-1, 0.5, 'open'],
    [0, 2, 'open'],
    [-2, 2, 'open'],
    [-2, 0, 'open'],
    [-0.5, 0, 'same'],
    [-0.75, -0.25, 'slower-small'],
    [-1, -0.25, 'slower-unclear'],
    [-2, -0.5, 'slower-unclear'],
    [-2, -1, 'slower-unclear'],
    [-2, -1.25, 'slower'],
    [2, 2, 'faster'],
    [0, 0, 'same'],
  ])('from %d to %d with 1 as the smallest that matters: %s', (low, high, want) => expect(at(low, high)).toBe(want))

  test('without an interval it is open, however large the figure', () => expect(standing({ estimate: 50, halfWidth: null, threshold: 1 })).toBe('open'))

  test('the band is symmetric on the scale of ratios: 2 % up is as far as 1.96 % down', () => {
    expect(Math.exp(-matters(cleanLab({ changes: { smallestGain: { percent: 2, fixedAt: '2026-11-01T08:00:00Z' } } }), qualityOf({ ...workload('points') })))).toBeCloseTo(1 / 1.02, 15)
  })
})

function workload(unit: string) {
  return snapshotOf({ starts: [], workloads: [{ unit }], runs: [] }).workloads[0]
}

describe('headlines', () => {
  const plan: Settle = { sentence: '', items: [{ what: 'start', count: 4, hand: 12, machine: 30 }], hand: 12, machine: 30, runs: 16 }
  const say = (value: number, low: number, high: number, options: { readonly unit?: string; readonly stop?: string; readonly where?: string } = {}): string => {
    const quality: Quality = qualityOf(workload(options.unit ?? 'points'))
    const scale = (shown: number) => (quality.compares === 'ratio' ? Math.log1p(shown / 100) : shown)
    const threshold = quality.compares === 'ratio' ? Math.log1p(0.01) : 2
    const verdict = verdictOf({ estimate: (scale(low) + scale(high)) / 2, halfWidth: (scale(high) - scale(low)) / 2, threshold }, quality)
    const input: HeadlineInput = {
      sides: ['80 W', '95 W'], quality, verdict: options.stop === undefined ? verdict : NOT_FAIR, measured: verdict, interval: { value, low, high }, limits: [0, 1, -0.990099], where: options.where ?? 'overall', settle: plan, why: '', stop: options.stop ?? null,
    }
    return headlineText(headline(input))
  }

  test.each([
    [say(1.8, 1.3, 2.3), '95 W is faster than 80 W: 1.8 % overall, between 1.3 and 2.3 %.'],
    [say(-1.8, -2.3, -1.3), '95 W is slower than 80 W: 1.8 % overall, between 1.3 and 2.3 %.'],
    [say(1.1, 0.4, 1.8), '95 W is faster than 80 W, how much is unclear: 1.1 % overall, between 0.4 and 1.8 % (about 42 min more).'],
    [say(-1.1, -1.8, -0.4), '95 W is slower than 80 W, how much is unclear: 1.1 % overall, between 0.4 and 1.8 % (about 42 min more).'],
    [say(0.5, 0.2, 0.8), '95 W is faster than 80 W, too small to matter: 0.5 % overall, between 0.2 and 0.8 %.'],
    [say(-0.5, -0.8, -0.2), '95 W is slower than 80 W, too small to matter: 0.5 % overall, between 0.2 and 0.8 %.'],
    [say(0.2, -0.3, 0.7), 'No difference that matters between 95 W and 80 W: +0.2 % overall, between −0.3 and 0.7 %.'],
    [say(0.3, -0.8, 1.4), "Can't tell yet whether 95 W is faster than 80 W: +0.3 % overall, between −0.8 and 1.4 % (about 42 min more)."],
    [say(1.8, 1.3, 2.3, { stop: 'Firmware differs' }), 'Not a fair comparison: firmware differs. As measured, 95 W is faster than 80 W: 1.8 % overall, between 1.3 and 2.3 %.'],
    [say(-1.8, -2.3, -1.3, { stop: 'Firmware differs' }), 'Not a fair comparison: firmware differs. As measured, 95 W is slower than 80 W: 1.8 % overall, between 1.3 and 2.3 %.'],
    [say(0.3, -0.8, 1.4, { stop: 'Order and side go together' }), 'Not a fair comparison: order and side go together. As measured, 95 W against 80 W: +0.3 % overall, between −0.8 and 1.4 %.'],
    [say(1.8, 1.3, 2.3, { where: 'over 5 of 6 workloads' }), '95 W is faster than 80 W: 1.8 % over 5 of 6 workloads, between 1.3 and 2.3 %.'],
    [say(3.7, 3.1, 4.3, { unit: 'degC' }), '95 W is cooler than 80 W: 3.7 °C overall, between 3.1 and 4.3 °C.'],
    [say(-4, -5, -3, { unit: 'dBA' }), '95 W is louder than 80 W: 4.0 dBA overall, between 3.0 and 5.0 dBA.'],
    [say(-6, -7, -5, { unit: 'W' }), '95 W is hungrier than 80 W: 6.0 % overall, between 5.0 and 7.0 %.'],
  ])('%s', (got, want) => expect(got).toBe(want))

  test('an end never prints as the limit that it lies beside', () => {
    expect(say(1.5, 1.02, 1.98)).toBe('95 W is faster than 80 W: 1.50 % overall, between 1.02 and 1.98 %.')
  })
})

function overallOf(answer: Answer) {
  return answer.estimates.find((estimate) => estimate.role === 'overall' && estimate.scope === answer.scope)
}

describe('answers end to end', () => {
  test('five samples and more speak for samples like these, fewer for themselves', () => {
    expect(compute(checked(cleanLab())).scope).toBe('samples like these')
    const four = cleanLab()
    const kept = withStarts(four, (start) => ({ sample: start.sample % 4 }))
    expect(compute(checked({ ...kept, samples: kept.samples.slice(0, 4) })).scope).toBe('these samples')
  })

  test('swapped sides say slower by what was faster', () => {
    const [up, down] = [compute(cleanLab()), compute(swapped(cleanLab()))]
    expect(headlineText(up.views[0].headline)).toMatch(/^95 W is faster than 80 W: 3\./)
    expect(headlineText(down.views[0].headline)).toMatch(/^80 W is slower than 95 W: 2\.9/)
    expect(overallOf(down)?.verdict?.words).toBe('Slower')
  })

  test('one workload is held to its own smallest change that matters, in headline and row alike', () => {
    const own = cleanLab()
    const answer = compute(checked({ ...own, workloads: [{ ...own.workloads[0], matters: 10 }], runs: onlyWorkload(own, 0) }))
    const codes = answer.estimates.map((estimate) => estimate.verdict?.code)
    expect(new Set(codes)).toEqual(new Set(['faster-small']))
    expect(answer.views[0].verdict.code).toBe('faster-small')
    expect(headlineText(answer.views[0].headline)).toMatch(/ in workload 1, between /)
    expect(answer.band).toMatch(/under 10 %/)
  })

  test('the overall speaks of the quality that weighs most', () => {
    const lab = snapshotOf({ starts: [], workloads: [{ unit: 'W', weight: 2 }, { unit: 'points' }, { unit: 'degC' }], runs: [] })
    expect(mainQuality(lab).name).toBe('thrift')
  })
})

function onlyWorkload(snapshot: GainSnapshot, workloadIndex: number): GainSnapshot['runs'] {
  const { runs } = snapshot
  const pick = <Value>(values: readonly Value[]) => values.filter((_, row) => runs.workload[row] === workloadIndex)
  return {
    id: pick(runs.id), start: pick(runs.start), workload: pick(runs.workload).map(() => 0), order: pick(runs.order),
    outcome: pick(runs.outcome), value: pick(runs.value), seconds: pick(runs.seconds), setAside: pick(runs.setAside),
  }
}

describe('what would settle it, by hand', () => {
  // One sample, three starts a side in turns, one workload, scores in natural logs 0, +-s about the mean of their side, the gain 0.004.
  const s = 0.006
  const logs = [[-s, 0, s], [0.004 - s, 0.004, 0.004 + s]]
  const starts = inTurns(1, 3)
  const runs = starts.map(({ side }, start): PlannedRun => ({ start, workload: 0, value: 100 * Math.exp(logs[side][[0, 2, 1][Math.floor(start / 2)]]), seconds: 120 }))
  const lab = snapshotOf({ starts, workloads: [{}], runs })
  const answer = compute(checked(lab))

  test('the interval is 0.4 % +- t(0.975, 4) sqrt(2 s^2 / 3), open', () => {
    const overall = answer.estimates.find((estimate) => estimate.role === 'overall' && estimate.scope === 'these samples')
    expect(overall?.computed?.standardError).toBeCloseTo(Math.sqrt((2 * s ** 2) / 3), 12)
    expect(overall?.computed?.df).toBeCloseTo(4, 9)
    expect(answer.views[0].verdict.code).toBe('open')
  })

  // Wanted: |0.004 - ln 1.01| = 0.0059503. With n starts a side the half-width is t(0.975, 2n - 2) s sqrt(2/n):
  // n = 8: 2.144787 x 0.003 = 0.0064344; n = 9: 2.119905 x 0.0028284 = 0.0059960; n = 10: 2.100922 x 0.0026833 = 0.0056373. Printed table of t.
  test('seven more starts of each side: 14 runs, and the minutes of 14 starts and 14 changes of tune', () => {
    // Start 2 hand, change 1 hand: 14 x 3 = 42. Start 3, change 2, run 2 machine: 14 x 7 = 98.
    expect(answer.settle).toMatchObject({ hand: 42, machine: 98, runs: 14, items: [{ what: 'start', count: 14 }] })
    expect(answer.settle?.sentence).toBe('About 7 more starts a sample and side would settle it: 14 runs, 42 min of hands, 98 min of machine time.')
    // 0.004 +- 2.776445 x 0.0048990: -0.96 and 1.78 %; one decimal would print the lower end as the edge of the band, -0.99.
    expect(headlineText(answer.views[0].headline)).toBe("Can't tell yet whether 95 W is faster than 80 W: +0.40 % in workload 1, between −0.96 and 1.78 % (about 2 h 20 min more).")
  })

  test('runs that died early or were set aside do not make a run look shorter', () => {
    const extra: readonly PlannedRun[] = [{ start: 0, workload: 0, value: null, outcome: 'program died', seconds: 1 }, ...[0, 1, 2, 3, 4, 5].map((start): PlannedRun => ({ start, workload: 0, value: 100, setAside: 'cooler had come loose', seconds: 1 }))]
    expect(compute(checked(snapshotOf({ starts, workloads: [{}], runs: [...runs, ...extra] }))).settle?.machine).toBe(98)
  })

  test('a gain right at the smallest that matters is not promised to settle', () => {
    const at = lab.runs.value.map((value, row) => (value === null ? null : starts[lab.runs.start[row]].side === 1 ? value * (1.01 / Math.exp(0.004)) : value))
    const hopeless = compute(checked({ ...lab, runs: { ...lab.runs, value: at } }))
    expect(hopeless.settle?.sentence).toBe('The gain sits so close to the smallest that matters that even 60 more starts a side would hardly settle it.')
    expect(headlineText(hopeless.views[0].headline)).not.toMatch(/more\)/)
  })

  // A gain of 0.1 in logs, 0.09 from the smallest that matters, scatter 1: 63 starts a side have a half-width of 1.98 x sqrt(2 / 63) = 0.35.
  test('a gain far from the smallest that matters, under wide scatter, is not said to sit close to it', () => {
    const wide = runs.map((run, index) => ({ ...run, value: 100 * Math.exp(starts[index].side * 0.1 + [0, -1, 1][Math.floor(index / 2)]) }))
    const hopeless = compute(checked(snapshotOf({ starts, workloads: [{}], runs: wide })))
    expect(hopeless.settle?.sentence).toBe('The starts scatter so widely that even 60 more starts a side would hardly settle it. Find out what makes them differ first.')
  })
})
