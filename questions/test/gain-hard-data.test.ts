// Difficult data: nothing throws, every answer keeps to the schema, and no text shows a figure that isn't one.
import * as fc from 'fast-check'
import { describe, expect, test } from 'vitest'
import { answerSchema, headlineText, type Answer, type GainSnapshot, type Outcome } from '@guardband/model'
import { compute } from '../gain/compute.ts'
import { table, text } from '../gain/tell.ts'
import { build, recipes } from './generated.ts'
import { checked, cleanLab, inTurns, snapshotOf, wobble, type PlannedRun, type PlannedStart } from './snapshots.ts'

const SCOPES = ['these samples', 'samples like these'] as const
const NO_FIGURE = /NaN|undefined|Infinity|∞|null|\[object|not known %|e[+-]\d/

/** Every text that any surface shows. */
function textsOf(answer: Answer): readonly string[] {
  return [
    ...answer.views.flatMap((view) => [headlineText(view.headline), view.verdict.words, view.unavailable ?? '']),
    ...SCOPES.flatMap((scope) => [text(answer, { scope, width: 80 }), ...table(answer, scope).rows.flatMap((row) => row.cells)]),
    ...answer.cautions.flatMap((caution) => [caution.title, caution.text]),
    ...answer.sections.flatMap((section) => [section.title, ...section.sentences]),
    ...answer.methods.map((method) => method.text),
    ...answer.estimates.map((estimate) => estimate.note ?? ''),
    answer.settle?.sentence ?? '', answer.basis.sentence, answer.band,
  ]
}

/** Computes, and holds the answer to everything that must be true of any. */
function sound(snapshot: GainSnapshot): Answer {
  const answer = answerSchema.parse(compute(checked(snapshot)))
  for (const shownText of textsOf(answer)) expect(shownText).not.toMatch(NO_FIGURE)
  for (const view of answer.views) {
    const overall = answer.estimates.find((estimate) => estimate.role === 'overall' && estimate.scope === view.scope)
    const sentence = headlineText(view.headline)
    expect(sentence).toMatch(/\.$/)
    expect(sentence).not.toMatch(/: ?\.|\(\)|, ,|\.\.| {2}/)
    if (overall === undefined || overall.low === null) expect(sentence, 'a figure without its interval').not.toMatch(/\d (%|°C|dBA)/)
    else expect(sentence).toMatch(/between .+ and .+ (%|°C|dBA)/)
  }
  for (const estimate of answer.estimates) {
    if (estimate.value === null || estimate.low === null) expect(estimate.note, `${estimate.key} must say why`).toBeTruthy()
    else if (estimate.role !== 'worth') {
      expect(estimate.low).toBeLessThanOrEqual(estimate.value)
      expect(estimate.high).toBeGreaterThanOrEqual(estimate.value)
    }
  }
  return answer
}

const one: readonly PlannedStart[] = [{ side: 0, sample: 0 }, { side: 1, sample: 0 }]

function lab(value: (side: 0 | 1, start: number, workload: number) => number | null, options: { readonly starts?: readonly PlannedStart[]; readonly workloads?: number; readonly unit?: string; readonly outcome?: (side: 0 | 1) => Outcome; readonly setAside?: (side: 0 | 1) => boolean } = {}): GainSnapshot {
  const { starts = inTurns(2, 3), workloads = 2, unit = 'points' } = options
  const runs = starts.flatMap(({ side }, start) =>
    Array.from({ length: workloads }, (_, workload): PlannedRun => ({
      start, workload, value: value(side, start, workload),
      ...(options.outcome === undefined ? {} : { outcome: options.outcome(side) }),
      ...(options.setAside?.(side) === true ? { setAside: 'cooler had come loose' } : {}),
    })),
  )
  return snapshotOf({ starts, workloads: Array.from({ length: workloads }, () => ({ unit })), runs }, { money: { extraPrice: 60, worthOfOnePercent: 40, partPrice: 500, machinePrice: 2000 } })
}

describe('scores that are no scores', () => {
  test.each([['zero', 0], ['negative', -3]] as const)('all %s: no answer, and the sentence says why', (_what, value) => {
    const answer = sound(lab(() => value))
    expect(answer.status).toBe('no answer')
    expect(headlineText(answer.views[0].headline)).toMatch(/gave no score that can be compared/)
  })

  test('some zero: they count as failed and the rest is compared', () => {
    const answer = sound(lab((side, start, workload) => (start === 2 && workload === 0 ? 0 : 100 + side + start / 10)))
    expect(answer.status).toBe('computed')
    expect(answer.cautions.find((caution) => caution.code === 'unusable-score')?.text).toBe('1 run scored zero or less, which has no ratio. It counts as failed; correct it, or set it aside with a reason.')
  })

  test('scored without a measure: no answer', () => expect(sound(lab(() => null)).status).toBe('no answer'))

  test('1e300 against 1e-300: no figure, and the reader is sent to the unit', () => {
    const answer = sound(lab((side, start) => (side === 0 ? 1e-300 : 1e300) * (1 + start / 1000)))
    expect(answer.cautions.map((caution) => caution.code)).toContain('out-of-reach')
    expect(headlineText(answer.views[0].headline)).toMatch(/lie too far apart/)
  })

  test.each([1e300, 1e-300, 5e-324, 1.7e308])('all %d: compared as any equal scores', (value) => {
    expect(sound(lab(() => value)).status).toBe('computed')
  })

  test.each([0, -40, 1e300, -1e300, 1e-320])('temperatures of %d', (value) => {
    sound(lab((side) => value * (1 + side), { unit: 'degC' }))
    sound(lab(() => value, { unit: 'degC', starts: one }))
  })

  test('tiny differences keep an interval', () => {
    const random = wobble(3)
    const answer = sound(lab(() => 1e-140 * random(), { unit: 'degC' }))
    expect(answer.estimates.find((estimate) => estimate.role === 'overall')?.low).not.toBeNull()
  })
})

describe('sides without scores', () => {
  test('no run at all', () => expect(sound(snapshotOf({ starts: [], workloads: [{}], runs: [] })).status).toBe('no answer'))
  test('one side empty', () => expect(headlineText(sound(lab(() => 100, { starts: [{ side: 0, sample: 0 }, { side: 0, sample: 0 }] })).views[0].headline)).toBe('No answer: 95 W has no runs yet. There is nothing to compare.'))
  test('one run in all', () => expect(sound(lab(() => 100, { starts: [{ side: 1, sample: 0 }], workloads: 1 })).status).toBe('no answer'))
  test('all failed', () => expect(headlineText(sound(lab(() => null, { outcome: () => 'program died' })).views[0].headline)).toMatch(/80 W has no score that counts: 12 runs ended without a score \(program died\)\. 95 W has no/))
  test('all failed on one side', () => expect(sound(lab(() => 100, { outcome: (side) => (side === 1 ? 'hung' : 'scored') })).status).toBe('no answer'))
  test('all set aside', () => expect(headlineText(sound(lab(() => 100, { setAside: () => true })).views[0].headline)).toMatch(/set aside/))
  test('all set aside on one side', () => expect(sound(lab(() => 100, { setAside: (side) => side === 0 })).status).toBe('no answer'))
  test('all stopped by a person', () => expect(sound(lab(() => null, { outcome: () => 'stopped by a person' })).status).toBe('no answer'))

  test('sides that share no workload', () => {
    const starts = one
    const answer = sound(snapshotOf({ starts, workloads: [{}, {}], runs: [{ start: 0, workload: 0, value: 10 }, { start: 1, workload: 1, value: 10 }] }))
    expect(answer.status).toBe('no answer')
  })

  test('a workload failed on one side leaves the others, and the count of them is said', () => {
    const starts = inTurns(2, 3)
    const random = wobble(9)
    const runs = starts.flatMap(({ side }, start) => [0, 1, 2].map((workload): PlannedRun => (side === 1 && workload === 2 ? { start, workload, value: null, outcome: 'program died' } : { start, workload, value: 100 + 5 * side + random() / 10 })))
    const answer = sound(snapshotOf({ starts, workloads: [{}, {}, {}], runs }))
    expect(headlineText(answer.views[0].headline)).toMatch(/over 2 of 3 workloads/)
    expect(answer.estimates.find((estimate) => estimate.key === 'workload:w3')?.note).toBe('95 W: all 6 runs failed')
  })
})

describe('little or degenerate evidence', () => {
  test('one start a side: a sentence without a figure', () => {
    const answer = sound(lab((side) => 100 + side, { starts: one }))
    expect(headlineText(answer.views[0].headline)).toMatch(/^Can't tell yet whether 95 W is faster than 80 W: one start a side gives no interval \(about \d+ min more\)\.$/)
  })

  test('all values equal: no difference, as far as the last digit printed tells', () => {
    const answer = sound(lab(() => 100))
    expect(answer.views[0].verdict.code).toBe('same')
    expect(answer.cautions.map((caution) => caution.code)).toEqual(['tied-scores'])
  })

  test('all values equal on a coarse instrument: more starts are not what is missing', () => {
    const answer = sound(lab(() => 8))
    expect(answer.views[0].verdict.code).toBe('open')
    expect(answer.settle?.sentence).toMatch(/^The instrument’s step is too coarse to settle it with more starts/)
  })

  test('two hundred workloads', () => {
    const random = wobble(4)
    expect(sound(lab((side) => 100 + 3 * side + random(), { workloads: 200 })).estimates.filter((estimate) => estimate.role === 'workload')).toHaveLength(400)
  })

  test('one workload', () => expect(sound(lab((side, start) => 100 + 3 * side + (start % 3), { workloads: 1 })).status).toBe('computed'))
  test('weights from 1e-300 to 1e308', () => {
    const snapshot = lab((side, start) => 100 + 3 * side + (start % 3))
    sound({ ...snapshot, workloads: snapshot.workloads.map((workload, index) => ({ ...workload, weight: index === 0 ? 1e308 : 1e-300 })) })
    sound({ ...snapshot, workloads: snapshot.workloads.map((workload) => ({ ...workload, weight: 1e308 })) })
  })
  test('a step or a smallest difference past all reason', () => {
    const snapshot = lab((side, start) => 100 + 3 * side + (start % 3), { workloads: 1 })
    sound({ ...snapshot, workloads: snapshot.workloads.map((workload) => ({ ...workload, resolution: 1e300, matters: 1e308 })) })
    sound({ ...snapshot, workloads: snapshot.workloads.map((workload) => ({ ...workload, resolution: 5e-324, matters: 5e-324 })) })
  })
  test('runs as long as a geological age', () => {
    const random = wobble(6)
    const snapshot = lab(() => 100 + 2 * random())
    expect(sound({ ...snapshot, runs: { ...snapshot.runs, seconds: snapshot.runs.seconds.map(() => 1e15) } }).settle?.sentence).toMatch(/more than a year/)
    sound({ ...snapshot, runs: { ...snapshot.runs, seconds: snapshot.runs.seconds.map(() => -5) } })
  })
  test('more samples than a caution may name', () => {
    const snapshot = cleanLab()
    const many = snapshotOf({ starts: Array.from({ length: 500 }, (_, index) => ({ side: index % 2 === 0 ? 0 : 1, sample: Math.floor(index / 2) })), workloads: [{}], runs: Array.from({ length: 500 }, (_, start) => ({ start, workload: 0, value: 100 + (start % 7) })) })
    sound({ ...many, samples: many.samples.map((sample) => ({ ...sample, picked: 'chosen' })), money: snapshot.money })
  })
})

test('any generated lab with any values gives a sound answer', () => {
  const values = fc.constantFrom(0, -1, 5e-324, 1e-300, 1e-9, 0.5, 1, 1, 100, 100, 101, 1e9, 1e300, 1.7e308, -1e300)
  fc.assert(
    fc.property(recipes, fc.array(values, { minLength: 1, maxLength: 12 }), fc.constantFrom(-50, 0, 1e-9, 60, 1e300), (recipe, list, extraPrice) => {
      const snapshot = build(recipe, { money: { extraPrice, worthOfOnePercent: 1e-9, partPrice: 1, machinePrice: 1e12 } })
      sound({ ...snapshot, runs: { ...snapshot.runs, value: snapshot.runs.value.map((value, row) => (value === null ? null : list[row % list.length])) } })
      sound(snapshot)
    }),
    { numRuns: 150, seed: 20261103 },
  )
})
