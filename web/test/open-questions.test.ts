// What the bench says of open questions.
import type { QuestionRow } from '@guardband/model/api'
import { describe, expect, test } from 'vitest'
import { benchSentence, cheapestFirst } from '../pages/open-questions.ts'

const ID = '0190a000-0000-7000-8000-000000000001'
const SIDES = { a: { partId: '0190a000-0000-7000-8000-000000000011' }, b: { partId: '0190a000-0000-7000-8000-000000000012' } }

function rowOf({ settle, tone = 'open' }: { readonly settle: { readonly hand: number; readonly machine: number } | null; readonly tone?: 'open' | 'up' }): QuestionRow {
  return {
    question: { kind: 'question', id: ID, ask: { kind: 'gain', about: { ...SIDES, suiteId: ID, slot: 'processor', smallestGain: { percent: 1, fixedAt: '2026-11-03T09:20:00Z' } } } },
    title: 'Dearer processor', state: 'ready', headline: null, verdict: { code: tone, words: tone, tone }, settle: settle === null ? null : { sentence: 'So and so much.', ...settle },
  }
}

const quick = rowOf({ settle: { hand: 16, machine: 55 } })
const longer = rowOf({ settle: { hand: 32, machine: 109 } })
const hopeless = rowOf({ settle: { hand: 162, machine: 3000 } })
const unpriced = rowOf({ settle: { hand: 0, machine: 0 } })
const settled = rowOf({ settle: null, tone: 'up' })

describe('the sentence of the bench', () => {
  test.each<[string, readonly QuestionRow[], string]>([
    ['adds up only what takes less than a day', [hopeless, longer, settled, quick, unpriced], '4 questions are open; 2 can be settled in 3 h 32 min, the cheapest in 71 min.'],
    ['names the one that can be settled', [quick, hopeless], '2 questions are open; the cheapest takes 71 min.'],
    ['names no time where a day is not enough', [hopeless, unpriced], '2 questions are open.'],
    ['speaks of one alone', [quick], '1 question is open; 71 min would settle it.'],
    ['speaks of all', [quick, longer], '2 questions are open; all can be settled in 3 h 32 min, the cheapest in 71 min.'],
    ['says when nothing is open', [settled], 'Nothing is open: every question asked has its answer.'],
  ])('%s', (_fact, rows, sentence) => {
    expect(benchSentence(rows)).toBe(sentence)
  })

  test('a minute of hands weighs more than a minute of machine, and what has no price comes last', () => {
    const handy = rowOf({ settle: { hand: 30, machine: 0 } })
    const idle = rowOf({ settle: { hand: 0, machine: 100 } })
    expect(cheapestFirst([unpriced, handy, idle])).toEqual([idle, handy, unpriced])
  })
})
