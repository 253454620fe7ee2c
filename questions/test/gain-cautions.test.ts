// Each caution is raised by the least change to a clean lab that deserves it, and by nothing in the clean one.
import { describe, expect, test } from 'vitest'
import { headlineText, type Answer, type Caution, type GainSnapshot } from '@guardband/model'
import { compute } from '../gain/compute.ts'
import { checked, cleanLab, inTurns, snapshotOf, withStarts, wobble, type PlannedRun, type PlannedStart } from './snapshots.ts'

function ask(snapshot: GainSnapshot): Answer {
  return compute(checked(snapshot))
}

function find(snapshot: GainSnapshot, code: string): Caution | undefined {
  return ask(snapshot).cautions.find((caution) => caution.code === code)
}

const clean = cleanLab()

test('a clean lab raises no caution', () => expect(ask(clean).cautions).toEqual([]))

/** Scores from starts alone: no sample is special, B is faster by 3 %. */
function labOf(starts: readonly PlannedStart[], options: { readonly drift?: number; readonly scatter?: number } = {}): GainSnapshot {
  const random = wobble(11)
  const { drift = 0, scatter = 0.001 } = options
  const runs = starts.map(({ side, hour }, start): PlannedRun => ({ start, workload: 0, value: 100 * Math.exp(0.03 * side + drift * (hour ?? start / 2) + scatter * random()) }))
  return snapshotOf({ starts, workloads: [{}], runs })
}

const sideB = (change: Partial<GainSnapshot['starts'][number]>) => withStarts(clean, (start) => (start.side === 1 ? change : {}))
const conditionB = (change: GainSnapshot['starts'][number]['conditions']) => withStarts(clean, (start) => (start.side === 1 ? { conditions: { ...start.conditions, ...change } } : {}))
const conditionOfOne = (change: GainSnapshot['starts'][number]['conditions']) => withStarts(clean, (start) => (start.id === clean.starts.find(({ side }) => side === 1)?.id ? { conditions: { ...start.conditions, ...change } } : {}))
const samplesAs = (change: Partial<GainSnapshot['samples'][number]>, which = (_index: number) => true): GainSnapshot => ({ ...clean, samples: clean.samples.map((sample, index) => (which(index) ? { ...sample, ...change } : sample)) })
const withRun = (row: number, change: { readonly value?: number | null; readonly outcome?: GainSnapshot['runs']['outcome'][number]; readonly setAside?: string }): GainSnapshot => ({
  ...clean,
  runs: {
    ...clean.runs,
    value: clean.runs.value.map((value, index) => (index === row && change.value !== undefined ? change.value : value)),
    outcome: clean.runs.outcome.map((outcome, index) => (index === row ? (change.outcome ?? outcome) : outcome)),
    setAside: clean.runs.setAside.map((reason, index) => (index === row ? (change.setAside ?? null) : reason)),
  },
})
const workloadOfSide = (drop: (side: 0 | 1, sample: number, workload: number) => boolean): GainSnapshot => ({
  ...clean,
  runs: { ...clean.runs, ...dropped(drop) },
})
function dropped(drop: (side: 0 | 1, sample: number, workload: number) => boolean): Partial<GainSnapshot['runs']> {
  const gone = clean.runs.start.map((start, row) => drop(clean.starts[start].side, clean.starts[start].sample, clean.runs.workload[row]))
  return { value: clean.runs.value.map((value, row) => (gone[row] ? null : value)), outcome: clean.runs.outcome.map((outcome, row) => (gone[row] ? 'program died' : outcome)) }
}

const byRounds = (samples: number, order: readonly (0 | 1)[]): readonly PlannedStart[] => order.flatMap((side) => Array.from({ length: samples }, (_, sample) => ({ side, sample })))

interface Case {
  readonly code: string
  readonly severity: Caution['severity']
  readonly snapshot: GainSnapshot
  readonly text: string | RegExp
  readonly title?: string
}

const cases: readonly Case[] = [
  { code: 'firmware-differs', severity: 'stops', snapshot: conditionB({ firmware: 'fw 2' }), title: 'Firmware differs', text: '80 W ran with fw 1, 95 W with fw 2: the gain belongs to this change as well.' },
  { code: 'system-image-differs', severity: 'stops', snapshot: conditionB({ systemImage: 'image 2' }), text: /^80 W ran with image 1/ },
  { code: 'drivers-differs', severity: 'stops', snapshot: conditionB({ drivers: 'drivers 2' }), title: 'Drivers differ', text: /drivers 2/ },
  { code: 'cooling-differs', severity: 'stops', snapshot: conditionB({ cooling: 'open bench' }), text: /open bench/ },
  { code: 'power-plan-differs', severity: 'stops', snapshot: conditionB({ powerPlan: 'thrifty' }), text: /thrifty/ },
  { code: 'microcode-differs', severity: 'warns', snapshot: withStarts(clean, (start) => ({ conditions: { ...start.conditions, microcode: `mc ${start.side}` } })), text: /mc 0/ },
  { code: 'fan-policy-differs', severity: 'warns', snapshot: withStarts(clean, (start) => ({ conditions: { ...start.conditions, fans: `curve ${start.side}` } })), text: /curve 0/ },
  { code: 'graphics-clocks-differs', severity: 'warns', snapshot: withStarts(clean, (start) => ({ conditions: { ...start.conditions, graphicsClocks: `${start.side}` } })), title: 'Graphics clocks differ', text: /80 W ran with 0/ },
  { code: 'firmware-mixed', severity: 'warns', snapshot: conditionOfOne({ firmware: 'fw 2' }), title: 'Firmware differs in part', text: '80 W ran with fw 1, 95 W with fw 1 and fw 2. Compare only what ran alike, or give each side the same share of each.' },
  { code: 'board-differs', severity: 'warns', snapshot: sideB({ partners: { board: 'Cairn M2 no. 9', memory: 'Marram 5600 no. 1' } }), text: /no\. 9/ },
  { code: 'cooler-differs', severity: 'stops', snapshot: withStarts(clean, (start) => ({ partners: { ...start.partners, cooler: `Burrow ${start.side}` } })), text: /Burrow 1/ },
  { code: 'rig-differs', severity: 'warns', snapshot: sideB({ rig: 'south bench' }), text: /north bench, 95 W with south bench/ },
  { code: 'ambient-differs', severity: 'stops', snapshot: conditionB({ ambient: 25.5 }), text: '80 W ran at 22.0 °C and 95 W at 25.5 °C on average.' },
  { code: 'conditions-unknown', severity: 'notes', snapshot: withStarts(clean, ({ conditions: { firmware: _gone, ...conditions } }) => ({ conditions })), text: 'Not recorded on both sides: firmware. Nothing shows that the sides were alike in this.' },
  { code: 'drift-confounded', severity: 'stops', snapshot: labOf(byRounds(2, [0, 0, 0, 1, 1, 1]), { scatter: 0.02 }), text: /^Every start of 80 W came before every start of 95 W of the same sample, so drift over the day can't be told from the gain\. The starts can't rule out/ },
  { code: 'order', severity: 'warns', snapshot: labOf(byRounds(4, [0, 0, 0, 0, 0, 0, 1, 1, 1, 1, 1, 1]), { scatter: 0.0002 }), text: /Within the sides it was small: it can account for at most 0\.\d+ %\.$/ },
  { code: 'order-leans', severity: 'warns', snapshot: labOf(([0, 0, 1, 0, 1, 1] as const).map((side) => ({ side, sample: 0 })), { scatter: 0.01 }), title: 'One side ran later', text: /^On the whole 95 W ran later than 80 W, and there are too few starts to tell drift from gain: drift alone can account for \d+\.\d+ %\./ },
  { code: 'drift', severity: 'warns', snapshot: labOf(inTurns(3, 4), { drift: -0.01 }), text: 'Scores fell 0.99 % an hour. It is taken out of the figures; the sides took turns, so it hardly touches the gain.' },
  { code: 'drift', severity: 'warns', snapshot: labOf(([0, 1, 0, 1, 1, 0, 1, 0, 1, 1, 1, 1] as const).map((side) => ({ side, sample: 0 })), { drift: -0.01 }), text: /^Scores fell (0\.9|1\.0)\d % an hour\. It is taken out of the figures; left in, it would have added −1\.\d\d %\.$/ },
  { code: 'drift-left', severity: 'warns', snapshot: labOf(Array.from({ length: 12 }, (_, sample) => ({ side: sample % 2 === 0 ? 0 : 1, sample })), { drift: 0.02 }), text: /^Scores rose 2\.\d+ % an hour\. With one start of a sample on each side this may be the samples themselves/ },
  { code: 'one-start', severity: 'warns', snapshot: labOf([{ side: 0, sample: 0 }, { side: 1, sample: 0 }]), text: /too few starts on each side/ },
  { code: 'one-sample', severity: 'warns', snapshot: labOf(inTurns(1, 4)), text: 'One processor sample ran on both sides: nothing shows how others of the kind would do.' },
  { code: 'chosen-samples', severity: 'warns', snapshot: samplesAs({ picked: 'chosen', origin: 'press' }), text: /^no\. 1, no\. 2, no\. 3, no\. 4, no\. 5 and 1 more from press deliveries: others/ },
  { code: 'picking-unknown', severity: 'notes', snapshot: samplesAs({ picked: 'unknown' }, (index) => index === 0), text: 'This is so for 1 of 6 samples. The interval for samples like these holds only if they were picked at random.' },
  { code: 'early-samples', severity: 'warns', snapshot: samplesAs({ origin: 'pre-production' }, (index) => index === 1), text: 'no. 2: retail parts may differ.' },
  { code: 'unfit-samples', severity: 'warns', snapshot: samplesAs({ status: 'wet' }, (index) => index === 1), text: 'no. 2 (wet) took part.' },
  { code: 'past-ceiling', severity: 'warns', snapshot: { ...clean, pastCeilings: [{ tune: '95 W', reason: 'to find the edge.', by: 'Ada Hollin' }] }, text: 'Ada Hollin let 95 W pass a ceiling of the lab: to find the edge.' },
  { code: 'sample-one-side', severity: 'warns', snapshot: workloadOfSide((side, sample) => side === 1 && sample === 5), text: 'no. 6 ran only as 80 W; the answer rests on the samples that ran on both sides.' },
  { code: 'sample-left-out', severity: 'warns', snapshot: workloadOfSide((side, sample, workload) => side === 1 && sample === 5 && workload === 1), text: 'no. 6 has no score in workload 2.' },
  { code: 'failed-workload', severity: 'warns', snapshot: workloadOfSide((side, _sample, workload) => side === 1 && workload === 1), title: '1 of 2 workloads', text: /^workload 2 has no score on 95 W\./ },
  { code: 'pooled-starts', severity: 'notes', snapshot: labOf([...inTurns(1, 2), { side: 1, sample: 0 }]), text: /too few starts/ },
  { code: 'pooled-samples', severity: 'notes', snapshot: labOf(inTurns(2, 3).map(({ side, sample }) => ({ side, sample: 2 * side + sample }))), text: /only two samples/ },
  { code: 'unusable-score', severity: 'warns', snapshot: withRun(3, { value: -1 }), text: /^1 run scored zero or less/ },
  { code: 'tied-scores', severity: 'notes', snapshot: { ...clean, runs: { ...clean.runs, value: clean.runs.value.map((value) => (value === null ? null : Math.round(value))) } }, text: /^workload 1 and workload 2: the instrument's step hides the scatter/ },
  { code: 'out-of-reach', severity: 'warns', snapshot: { ...clean, runs: { ...clean.runs, value: clean.runs.value.map((value, row) => (value !== null && clean.starts[clean.runs.start[row]].side === 1 ? value * 1e12 : value)) } }, text: /wrong unit/ },
  { code: 'failed-runs', severity: 'notes', snapshot: withRun(3, { outcome: 'machine reset', value: null }), title: '1 run failed', text: /\(machine reset\)\. A gain says nothing about holding up\.$/ },
  { code: 'failed-starts', severity: 'warns', snapshot: { ...clean, failedStarts: [{ id: 'start-x', side: 1, result: 'fallback start' }] }, text: /^95 W 1\. What ran at fallback settings is not counted/ },
  { code: 'live-only', severity: 'warns', snapshot: withStarts(clean, () => ({ how: 'live' })), text: /was not sampled/ },
  { code: 'unverified', severity: 'warns', snapshot: withStarts(clean, (_start, index) => (index < 2 ? { known: 'unverified' } : {})), text: 'In 2 of 48 starts nothing shows that the settings asked for were in force.' },
  { code: 'one-board', severity: 'notes', snapshot: withStarts(clean, (start) => ({ partners: { ...start.partners, board: 'Cairn M2 no. 1' } })), text: 'Every start ran on Cairn M2 no. 1; nothing shows how another board would do.' },
  { code: 'training', severity: 'warns', snapshot: withStarts(clean, (_start, index) => (index === 0 ? { training: { result: 'fallback' } } : {})), text: 'This is so for 1 of 48 starts: check what was in force there.' },
  { code: 'limit-after-data', severity: 'notes', snapshot: { ...clean, smallestGain: { percent: 1, fixedAt: '2026-11-20T08:00:00Z' } }, text: 'The smallest gain that matters was fixed on 20 November 2026, when all starts were made already. Fix it before the next runs.' },
  { code: 'limit-after-data', severity: 'notes', snapshot: { ...clean, smallestGain: { percent: 1, fixedAt: clean.starts[1].at ?? '' } }, text: /when 1 of 48 starts was made already\./ },
  { code: 'set-aside', severity: 'notes', snapshot: withRun(3, { setAside: 'window left open' }), title: '1 run set aside', text: /^Set aside by a person, with a reason\. With it the overall would be \+3\.\d\d %\.$/ },
]

describe('each caution has its cause', () => {
  test.each(cases.map((one) => [one.code, one] as const))('%s', (code, { snapshot, severity, text, title }) => {
    const found = find(snapshot, code)
    expect(found, `raised instead: ${ask(snapshot).cautions.map((caution) => caution.code).join(', ')}`).toBeDefined()
    expect(found?.severity).toBe(severity)
    if (title !== undefined) expect(found?.title).toBe(title)
    if (typeof text === 'string') expect(found?.text).toBe(text)
    else expect(found?.text).toMatch(text)
  })

  test('what stops comes first and stands before the number', () => {
    const answer = ask({ ...conditionB({ firmware: 'fw 2' }), failedStarts: [{ id: 'start-x', side: 1, result: 'no start' }] })
    expect(answer.cautions.map((caution) => caution.severity)).toEqual(['stops', 'warns'])
    expect(headlineText(answer.views[0].headline)).toMatch(/^Not a fair comparison: firmware differs\. As measured, 95 W is faster than 80 W: 3\.0\d* % overall, between .+ %\.$/)
    expect(answer.views.every((view) => view.verdict.code === 'not-fair')).toBe(true)
  })

  test('a board that differs brings its own firmware: that only warns', () => {
    const boards = withStarts(clean, (start) => ({ partners: { board: `board ${start.side}` }, conditions: { ...start.conditions, firmware: `fw ${start.side}` } }))
    expect(find(boards, 'firmware-differs')?.severity).toBe('warns')
  })

  test('ambient 3 degC apart is not yet different', () => expect(find(conditionB({ ambient: 25 }), 'ambient-differs')).toBeUndefined())

  test('a side without records is not taken as alike', () => {
    const half = withStarts(clean, ({ side, conditions: { firmware, ...conditions } }) => ({ conditions: side === 0 ? { ...conditions, ...(firmware === undefined ? {} : { firmware }) } : conditions }))
    expect(find(half, 'conditions-unknown')?.text).toMatch(/firmware/)
  })

  test('a workload that drifts alone is named, and the overall is left as it was', () => {
    const drifting = { ...clean, runs: { ...clean.runs, value: clean.runs.value.map((value, row) => (value === null || clean.runs.workload[row] === 0 ? value : value * Math.exp(0.0001 * clean.runs.start[row]))) } }
    const heavier = { ...drifting, workloads: drifting.workloads.map((workload, index) => ({ ...workload, weight: index === 0 ? 50 : 1 })) }
    expect(find(heavier, 'workload-drift')?.text).toBe('Taken out of workload 2; the overall shows none.')
  })
})

describe('conditions shared out unevenly', () => {
  const four = [0, 1, 2, 3].flatMap((): PlannedStart[] => [{ side: 0, sample: 0 }, { side: 1, sample: 0 }])
  const withNewFirmware = (newOnA: number, newOnB: number): GainSnapshot => {
    const seen = [0, 0]
    const limit = [newOnA, newOnB]
    return withStarts(labOf(four), (start) => (seen[start.side]++ < limit[start.side] ? { conditions: { ...start.conditions, firmware: 'fw 2' } } : {}))
  }

  test('one start of four against three of four is said to differ in part', () => expect(find(withNewFirmware(1, 3), 'firmware-mixed')?.severity).toBe('warns'))
  test('two of four on each side is alike', () => expect(find(withNewFirmware(2, 2), 'firmware-mixed')).toBeUndefined())
})

describe('samples that ran on both sides among others that did not', () => {
  test('one of five does not push the other four aside', () => {
    const { basis, cautions } = ask(labOf(threeRounds([0, 1, 2, 3, 4], [4, 5, 6, 7, 8])))
    expect(basis.samples).toEqual([5, 5])
    expect(cautions.map(({ code }) => code)).not.toContain('sample-one-side')
  })
  test('two of three carry the answer, and the third is named', () => {
    const { basis, cautions } = ask(labOf(threeRounds([0, 1, 2], [1, 2, 3])))
    expect(basis.samples).toEqual([2, 2])
    expect(cautions.map(({ code }) => code)).toContain('sample-one-side')
  })
})

/** Samples `a` on side A, then `b` on side B, three times over. */
function threeRounds(a: readonly number[], b: readonly number[]): readonly PlannedStart[] {
  return [0, 1, 2].flatMap((): PlannedStart[] => [...a.map((sample) => ({ side: 0 as const, sample })), ...b.map((sample) => ({ side: 1 as const, sample }))])
}

describe('what a reader would stumble on', () => {
  const turns = inTurns(3, 4)
  /** Starts scatter by 1 %, but alike on each sample, so that the samples' differences agree. */
  const agreeing = snapshotOf({ starts: turns, workloads: [{}], runs: turns.map(({ side }, start): PlannedRun => ({ start, workload: 0, value: 100 * Math.exp(0.03 * side + 0.01 * Math.sin(5 * Math.floor(start / 6)) * (side === 0 ? 1 : -1)) + start / 1000 })) })

  test('samples that agree better than their starts scatter are said to', () => expect(find(agreeing, 'like-narrower')?.severity).toBe('notes'))

  test('one power-on among live changes is hardly a power-on', () => {
    const hardly = withStarts(clean, (_start, index) => ({ how: index === 0 ? 'cold' : 'live' }))
    expect(find(hardly, 'live-only')?.text).toContain('All but 1 start are live changes')
    const enough = withStarts(clean, (_start, index) => ({ how: index < 4 ? 'cold' : 'live' }))
    expect(find(enough, 'live-only')).toBeUndefined()
  })

  test('a slide far below the smallest gain that matters is a note', () => {
    const slight = ask(labOf(inTurns(2, 8), { drift: -0.0001, scatter: 0.000_01 })).cautions.find(({ code }) => code === 'drift')
    const strong = ask(labOf(inTurns(2, 8), { drift: -0.002, scatter: 0.000_01 })).cautions.find(({ code }) => code === 'drift')
    expect([slight?.severity, strong?.severity]).toEqual(['notes', 'warns'])
  })
})

test('one sample gives no figure, not even a bare one, to samples like these', () => {
  const { estimates } = ask(labOf(inTurns(1, 4)))
  const like = estimates.filter(({ scope }) => scope === 'samples like these')
  expect(like.map(({ value, low, note }) => [value, low, note])).toEqual(like.map(() => [null, null, 'one sample: no interval']))
  expect(estimates.filter(({ scope }) => scope === 'these samples').every(({ value, low }) => value !== null && low !== null)).toBe(true)
})
