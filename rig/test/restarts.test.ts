// How many restarts within the last hour a row of journals tells of, whatever became of the clock.
import { expect, test } from 'vitest'
import type { JournalBody } from '@guardband/model'
import type { JournalFileReading } from '../journal-folder.ts'
import { WENT_DOWN, restartsWithinHour } from '../restarts.ts'

const MINUTE = 60_000
const HOUR = 60 * MINUTE
const DAY = 24 * HOUR
const NIGHT = Date.parse('2026-11-03T01:00:00Z')

interface Life {
  readonly boot: string
  /** Moments of its records, as its clock had them. */
  readonly at: readonly number[]
  /** Why it closed; absent where nothing closed it. */
  readonly closed?: string
  readonly answer?: true
}

/** A boot each `every` milliseconds, with records each minute for ten minutes. */
function lives(count: number, every: number, more: (place: number) => Partial<Life> = () => ({})): readonly Life[] {
  return Array.from({ length: count }, (_, place) => ({ boot: `boot-${place}`, at: Array.from({ length: 11 }, (__, minute) => NIGHT + place * every + minute * MINUTE), ...more(place) }))
}

const SOON = 11 * MINUTE

test('restarts are counted over the last hour, by steps of the clock', () => {
  expect(count(lives(9, SOON), NIGHT + 9 * SOON)).toBe(6)
  expect(count(lives(3, SOON), NIGHT + 3 * SOON)).toBe(3)
  expect(count(lives(6, 2 * HOUR), NIGHT + 12 * HOUR), 'one in two hours: this one alone').toBe(1)
  expect(restartsWithinHour([], { now: NIGHT, bootId: 'boot-1' })).toBe(0)
  expect(count(lives(3, SOON), NIGHT + 2 * SOON + 10 * MINUTE, 'boot-2'), 'of this boot itself').toBe(2)
})

test('what a rig was closed before is a restart of a person\'s, but not where the machine beside it went down', () => {
  expect(count(lives(3, SOON, () => ({ closed: 'the cold start of c1 is waited for' })), NIGHT + 3 * SOON)).toBe(0)
  expect(count(lives(3, SOON, () => ({ closed: WENT_DOWN.restarted })), NIGHT + 3 * SOON)).toBe(3)
})

test.each<[string, (place: number, at: number) => number]>([
  ['back once, and stays so', (place, at) => (place < 2 ? at : at - 3 * 365 * DAY)],
  ['ahead once, and stays so', (place, at) => (place < 2 ? at : at + 400 * DAY)],
  ['back at each start of the machine', (place, at) => at - place * DAY],
  ['to another year at each start, and right after its first minutes', (_, at) => ((at - NIGHT) % SOON < 3 * MINUTE ? at - 11 * 365 * DAY : at)],
  ['two hours ahead at each start, and right after its first minutes', (_, at) => ((at - NIGHT) % SOON < 3 * MINUTE ? at + 2 * HOUR : at)],
])('a clock that is set %s neither hides a restart nor adds one', (_, shown) => {
  const told = lives(4, SOON).map((life, place) => ({ ...life, at: life.at.map((at) => shown(place, at)) }))
  expect(count(told, shown(4, NIGHT + 4 * SOON))).toBe(4)
})

test('a clock that was set back holds nothing up for ever: an hour of work is an hour', () => {
  const before = lives(6, SOON)
  const back = NIGHT - 3 * 365 * DAY
  const working: Life = { boot: 'boot-6', at: Array.from({ length: 62 }, (_, minute) => back + minute * MINUTE) }
  expect(count([...before, working], back + 62 * MINUTE, 'boot-6')).toBe(0)
})

test('people take their own time over an answer', () => {
  const [first, second] = lives(2, SOON)
  const asked: Life = { ...second, at: [...second.at, second.at[10] + 2 * HOUR], answer: true }
  expect(count([first, asked], asked.at[11] + MINUTE, 'boot-9')).toBe(1)
})

function count(told: readonly Life[], now: number, bootId = 'boot-now'): number {
  return restartsWithinHour(told.map(fileOf), { now, bootId })
}

function fileOf({ boot, at, closed, answer }: Life): JournalFileReading {
  const times = at.map((moment) => new Date(moment).toISOString())
  // Only what the count looks at.
  const open = { type: 'open', at: times[0], bootId: boot } as Extract<JournalBody, { type: 'open' }>
  const bodies: JournalBody[] = [open, ...times.slice(1).map((moment): JournalBody => ({ type: 'heartbeat', at: moment, step: 'r1', elapsed: 1 }))]
  if (answer !== undefined) bodies[bodies.length - 1] = { type: 'answer', at: times[times.length - 1], step: 'p1', asked: 'Well?', answer: '', who: 'Ada', via: 'phone' }
  if (closed !== undefined) bodies.push({ type: 'close', at: times[times.length - 1], reason: closed })
  return { path: `${boot}.journal`, journal: boot, open, entries: bodies.map((body, sequence) => ({ sequence, hash: '', offset: 0, body })), damaged: false }
}
