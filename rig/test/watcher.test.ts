// When silence counts, and what a companion then does: by rules alone, without a clock.
import { expect, test } from 'vitest'
import { createWatcher, type WatchStep, type Watcher } from '../companion/watcher.ts'

const RULES = { silenceSeconds: 60, waits: [100, 200], mostPerHour: 3 }

/** Looks every second from one moment to another; what came of it, with its moment. */
function looks(watcher: Watcher, from: number, to: number): readonly (readonly [number, WatchStep])[] {
  const steps: (readonly [number, WatchStep])[] = []
  for (let now = from; now <= to; now++) {
    const step = watcher.look(now)
    if (step.kind !== 'nothing') steps.push([now, step])
    if (step.kind === 'act') watcher.acted(now)
  }
  return steps
}

test('silence counts after its seconds, then the actions come in their order, each with its time, and then it gives up', () => {
  const watcher = createWatcher(RULES)
  expect(watcher.heard('at work', 0)).toBe(false)
  expect(looks(watcher, 0, 1000)).toEqual([
    [60, { kind: 'silence', seconds: 60 }], [61, { kind: 'act', action: 0 }], [161, { kind: 'act', action: 1 }], [361, { kind: 'given up', why: 'all that this companion may do has been tried' }],
  ])
})

test('a rig that is heard again is not acted on any more, and its next silence begins anew', () => {
  const watcher = createWatcher(RULES)
  watcher.heard('at work', 0)
  expect(looks(watcher, 0, 89)).toHaveLength(2)
  expect(watcher.heard('at work', 90)).toBe(true)
  expect(looks(watcher, 90, 149)).toEqual([])
  expect(looks(watcher, 150, 151).map(([, step]) => step.kind)).toEqual(['silence', 'act'])
})

test.each(['asks', 'grace', 'power-on', 'finished', 'stopped'] as const)('one that said "%s" may be silent for hours', (state) => {
  const watcher = createWatcher(RULES)
  watcher.heard('at work', 0)
  watcher.heard(state, 5)
  expect(looks(watcher, 5, 10_000)).toEqual([])
})

test('one that was never heard is not missed', () => {
  expect(looks(createWatcher(RULES), 0, 1000)).toEqual([])
})

test('what this program slept through says nothing about the rig', () => {
  const watcher = createWatcher(RULES)
  watcher.heard('at work', 0)
  expect(looks(watcher, 0, 30)).toEqual([])
  // Suspended for an hour: the rig gets the time that it may need to come back to it.
  expect(looks(watcher, 3600, 3674)).toEqual([])
  expect(looks(watcher, 3675, 3675).map(([, step]) => step.kind)).toEqual(['silence'])
})

test('one that slept while it waited after an action does not act before the rig had time to be heard', () => {
  const watcher = createWatcher(RULES)
  watcher.heard('at work', 0)
  expect(looks(watcher, 0, 62).map(([, { kind }]) => kind)).toEqual(['silence', 'act'])
  expect(looks(watcher, 1000, 1074)).toEqual([])
  expect(watcher.heard('at work', 1075)).toBe(true)
  expect(looks(watcher, 1075, 1134)).toEqual([])
})

test('what was done before this program began counts towards the hour', () => {
  const watcher = createWatcher(RULES, [-100, -50, -10])
  watcher.heard('at work', 0)
  expect(looks(watcher, 0, 70)).toEqual([[60, { kind: 'silence', seconds: 60 }], [61, { kind: 'given up', why: 'it has acted 3 times within an hour, and no more is allowed' }]])
})

test('no more is done within an hour than was allowed, however often the rig comes and goes', () => {
  const watcher = createWatcher(RULES)
  const acts: number[] = []
  for (let round = 0; round < 8; round++) {
    const from = round * 200
    watcher.heard('at work', from)
    acts.push(...looks(watcher, from, from + 199).flatMap(([now, { kind }]) => (kind === 'act' ? [now] : [])))
  }
  expect(acts).toEqual([61, 161, 261])
  looks(watcher, 1600, 4999)
  watcher.heard('at work', 5000)
  expect(looks(watcher, 5000, 5061).map(([, { kind }]) => kind)).toEqual(['silence', 'act'])
})

test('without any action it says that there is nothing that it may do', () => {
  const watcher = createWatcher({ ...RULES, waits: [] })
  watcher.heard('at work', 0)
  expect(looks(watcher, 0, 100)).toEqual([[60, { kind: 'silence', seconds: 60 }], [61, { kind: 'given up', why: 'there is nothing that this companion may do' }]])
})
