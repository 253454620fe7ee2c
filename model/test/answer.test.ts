// What every surface may rely on in an answer.
import { expect, test } from 'vitest'
import { answerSchema, headlineText, viewOf, type Answer } from '../answer.ts'

const open = { code: 'open', words: "Can't tell yet", tone: 'open' } as const

function makeAnswer(): Answer {
  return {
    schema: 1, kind: 'gain', revision: 1, question: { id: 'q', title: 'Is the 14R worth it?' }, lab: 'Hollin & Pike', simulated: true, snapshotDigest: 'ab', status: 'computed',
    sides: ['Quillon 14', 'Quillon 14R'], scope: 'these samples',
    views: [
      { scope: 'samples like these', headline: [{ text: 'Others.' }], verdict: open },
      { scope: 'these samples', headline: [{ text: 'Quillon 14R is ' }, { text: 'faster', verdict: true }, { text: ' than Quillon 14.' }], verdict: open },
    ],
    estimates: [
      {
        key: 'overall', role: 'overall', label: 'Overall', scope: 'these samples', value: 1.8, low: 1.3, high: 2.3, confidence: 0.95, unit: '%', bandLow: -1, bandHigh: 1,
        computed: null, verdict: open, samples: [2, 2], starts: [6, 6], runs: [30, 30], failed: [0, 0],
      },
    ],
    basis: { samples: [2, 2], starts: [6, 6], runs: 60, failed: 0, setAside: 0, sentence: '2 + 2 samples' },
    cautions: [], settle: null, sections: [], methods: [], band: '',
  }
}

function withCaution(records: number): unknown {
  return { ...makeAnswer(), cautions: [{ code: 'x', severity: 'notes', title: 'x', text: 'x', records: Array.from({ length: records }, () => 'r') }] }
}

test('an answer survives being written and read', () => {
  expect(answerSchema.parse(JSON.parse(JSON.stringify(makeAnswer())))).toEqual(makeAnswer())
})

test('an answer never holds what is no number', () => {
  for (const value of [Number.NaN, Number.POSITIVE_INFINITY, Number.NEGATIVE_INFINITY]) {
    for (const field of ['value', 'low', 'high', 'bandLow', 'bandHigh', 'confidence']) {
      const answer = makeAnswer()
      expect(answerSchema.safeParse({ ...answer, estimates: [{ ...answer.estimates[0], [field]: value }] }).success, `${field} ${value}`).toBe(false)
    }
  }
})

test('a caution names at most 200 records', () => {
  expect([200, 201].map((count) => answerSchema.safeParse(withCaution(count)).success)).toEqual([true, false])
})

test('the headline is one sentence, and the view is the headline’s scope unless another is asked for', () => {
  const answer = makeAnswer()
  expect(headlineText(viewOf(answer).headline)).toBe('Quillon 14R is faster than Quillon 14.')
  expect(headlineText(viewOf(answer, 'samples like these').headline)).toBe('Others.')
})

test('a scope without a view falls back to the first, and an answer without views is a mistake', () => {
  const answer = makeAnswer()
  expect(viewOf({ ...answer, views: [answer.views[0]] }).scope).toBe('samples like these')
  expect(() => viewOf({ ...answer, views: [] })).toThrow('answer must have at least one view; got none')
})
