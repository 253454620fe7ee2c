// The form of a question: what it refuses, and the question it makes.
import { gainAboutSchema } from '@guardband/model'
import { describe, expect, test } from 'vitest'
import { askProblems, askSearch, gainAbout, usualSmallest, type AskFields } from '../pages/ask-form.ts'

const PART = '0190a000-0000-7000-8000-000000000011'
const OTHER = '0190a000-0000-7000-8000-000000000012'
const SUITE = '0190a000-0000-7000-8000-000000000051'
const WHOLE: AskFields = { aPart: PART, bPart: OTHER, suite: SUITE }
const NOW = new Date('2026-11-03T09:20:00Z')

describe('askProblems', () => {
  test('a question with two different sides and a suite needs nothing more', () => {
    expect(askProblems(WHOLE)).toEqual([])
  })

  test.each<[string, AskFields, string]>([
    ['no side B', { aPart: PART, suite: SUITE }, 'bPart'],
    ['no side A', { bPart: PART, suite: SUITE }, 'aPart'],
    ['twice the same', { ...WHOLE, bPart: PART }, 'aPart'],
    ['no suite', { aPart: PART, bPart: OTHER }, 'suite'],
    ['a smallest gain of nothing', { ...WHOLE, smallest: '0' }, 'smallest'],
    ['words for a price', { ...WHOLE, extra: 'much' }, 'extra'],
    ['a worth without a price', { ...WHOLE, worth: '30' }, 'extra'],
    ['a worth below zero', { ...WHOLE, extra: '74', worth: '-3' }, 'worth'],
  ])('%s is named at its field', (_what, fields, key) => {
    expect(askProblems(fields).map((problem) => problem.key)).toContain(key)
  })
})

describe('gainAbout', () => {
  test('keeps the limit that a plan fixed, with its time, where the field was left alone, and not where the person typed one', () => {
    const offer = { from: 'plan', plan: 'first answer', percent: 2, fixedAt: '2026-11-01T08:00:00Z' } as const
    expect(gainAbout({ ...WHOLE, smallest: undefined }, NOW, offer).smallestGain).toEqual({ percent: 2, fixedAt: '2026-11-01T08:00:00Z' })
    expect(gainAbout({ ...WHOLE, smallest: '3' }, NOW, offer).smallestGain).toEqual({ percent: 3, fixedAt: NOW.toISOString() })
  })

  test('the question fits the contract, carries the time at which the smallest gain was fixed, and takes a decimal comma', () => {
    const about = gainAbout({ ...WHOLE, extra: '74,50', worth: '30' }, NOW)
    expect(gainAboutSchema.parse(about)).toEqual(about)
    expect(about.smallestGain).toEqual({ percent: 1, fixedAt: '2026-11-03T09:20:00.000Z' })
    expect(about.money).toEqual({ extraPrice: 74.5, worthOfOnePercent: 30 })
  })

  test('a tuning step matters from half of what matters part against part', () => {
    expect(usualSmallest({ aPart: PART, bPart: PART })).toBe('0.5')
    expect(usualSmallest(WHOLE)).toBe('1')
  })
})

test('what an address holds beyond the form is dropped, and numbers in it are read as typed', () => {
  expect(askSearch({ aPart: PART, smallest: 2, slot: 'gearbox', other: 'x', title: '' })).toEqual({ aPart: PART, smallest: '2' })
})
