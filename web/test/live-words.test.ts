// Rigs at work in words.
import type { LiveRig, LiveState } from '@guardband/model/api/live'
import { expect, test } from 'vitest'
import { answeredText, answerOf, askParts, asksFirst, clockText, doneText, elapsedText, heardText, hubTime, newsOf, stepText } from '../pieces/live-words.ts'
import { ask, liveRig } from './fixtures/live.ts'

const at = Date.parse('2026-11-06T08:00:00Z')
const plain = (text: string): string => text.replaceAll('\u00a0', ' ')

test('a rig at work is silent after half a minute, one that has ended never is', () => {
  expect([0, 29, 30, 125, 3600 * 5 + 60].map((seconds) => plain(heardText(liveRig('north bench'), at + seconds * 1000).text))).toEqual(['heard 0 s ago', 'heard 29 s ago', 'not heard for 30 s', 'not heard for 2 min', 'not heard for 5 h 1 min'])
  expect(heardText(liveRig('north bench', { state: 'finished' }), at + 125_000)).toEqual({ text: 'heard 2\u00a0min\u00a0ago', silent: false })
  // A clock that jumped back makes no negative time.
  expect(plain(heardText(liveRig('north bench'), at - 5000).text)).toBe('heard 0 s ago')
})

test('times of the rig are told by the hub\'s clock', () => {
  const rig: LiveRig = { ...liveRig('north bench'), clock: { offset: 734.2, within: 0.04 } }
  expect(hubTime(rig, '2026-11-06T07:47:45.800Z')).toBe(at)
})

test('a clock is spoken of where it is off by more than its bound and by more than a second', () => {
  expect(off(0.8, 0.04)).toBeNull()
  expect(off(3, 5)).toBeNull()
  expect(plain(off(734.2, 0.04) ?? '')).toBe('Its clock is 12 min behind the hub\'s, give or take 0.04 s. Times here are put right.')
  expect(plain(off(-2.53, 0.04) ?? '')).toBe('Its clock is 2.5 s ahead of the hub\'s, give or take 0.04 s. Times here are put right.')
  expect(clockText(liveRig('north bench'))).toBeNull()
})

test('what it is at, what is done and how long it takes are whole sentences\' parts', () => {
  expect(stepText(liveRig('north bench'))).toBe('code build, with quiet 65 W in force')
  expect(stepText(liveRig('north bench', { step: step('run', null) }))).toBe('code build, with something in force that matches no tune')
  expect(stepText(liveRig('north bench', { step: step('adjust', 'quiet 65 W') }))).toBe('code build is being put in force, within the start')
  expect(stepText(liveRig('north bench', { step: null }))).toBeNull()
  expect(doneText(liveRig('north bench'))).toBe('14 steps done, 22 left, about 96 min')
  expect(doneText(liveRig('north bench', { minutesLeft: null }))).toBe('14 steps done, 22 left; how long is not known yet')
  expect(doneText(liveRig('north bench', { done: 1, left: 0, minutesLeft: 0 }))).toBe('1 step done, none left')
  expect([0, 41.9, 3723, -3].map(elapsedText)).toEqual(['0:00', '0:41', '1:02:03', '0:00'])
})

test('rigs that ask come first, the one that waits longest at the top; the others stand by name', () => {
  const rigs = [liveRig('west'), liveRig('north', asking('2026-11-06T08:00:05Z')), liveRig('east'), liveRig('south', asking('2026-11-06T07:59:00Z'))]
  expect(asksFirst(rigs).map(({ state }) => state.rig)).toEqual(['south', 'north', 'east', 'west'])
})

test('a decimal comma becomes a point, and digits that were typed stay', () => {
  const volts = ask('value', { unit: 'V' })
  expect(['1,350', ' 1.35 ', '\u22120,04', '-.5', '+3', '', 'about 3', '1.2.3', '1,2,3', '1e3'].map((text) => answerOf(volts, text))).toEqual(['1.350', '1.35', '-0.04', '-.5', '+3', null, null, null, null, null])
  expect(answerOf(ask('value'), ' D4, then 55 ')).toBe('D4, then 55')
  expect(answerOf(ask('done'), '')).toBe('')
})

test('a longer text closes with its question', () => {
  expect(askParts('tune "x" asks for:\n    limit: 65 W\nIs it so?\n')).toEqual({ lead: 'tune "x" asks for:\n    limit: 65 W', question: 'Is it so?' })
})

test('an answer that the rig has not fetched says whose it is', () => {
  const rig = liveRig('north bench', asking('2026-11-06T07:59:00Z'))
  expect(answeredText(rig)).toBeNull()
  expect(answeredText({ ...rig, answered: '', answeredBy: { who: 'phone of the north bench', via: 'phone' } })).toBe('Answered by phone of the north bench, on the phone: done. The rig has not fetched it yet.')
})

test('news are questions and ends; a heartbeat or a further step is none', () => {
  const before = [liveRig('north bench'), liveRig('south bench')]
  expect(newsOf(before, [{ ...liveRig('north bench', { done: 15 }), heard: '2026-11-06T08:00:05Z' }, liveRig('south bench')])).toBe('')
  expect(newsOf(before, [liveRig('north bench', asking('2026-11-06T08:00:05Z')), liveRig('south bench', { state: 'stopped', message: 'the disk is full' })])).toBe('north bench asks: Put it in force. south bench has stopped: the disk is full.')
})

function off(offset: number, within: number): string | null {
  return clockText({ ...liveRig('north bench'), clock: { offset, within } })
}

function step(kind: NonNullable<LiveState['step']>['kind'], tune: string | null): LiveState['step'] {
  return { id: 'run-7', kind, name: 'code build', tune, since: '2026-11-06T07:59:00Z' }
}

function asking(since: string): Partial<LiveState> {
  return { state: 'asks', ask: ask('done', { since }) }
}
