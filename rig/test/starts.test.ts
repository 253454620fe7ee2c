// How starts come about: power-ons asked for and recognised, restarts that nobody planned, and what the journals call them.
import { existsSync, readFileSync } from 'node:fs'
import { join } from 'node:path'
import { expect, test } from 'vitest'
import { ONE_START, createBench, createSources, diskThatFailsAt, ofType, planJson, quietTerminal, tune } from './kit.ts'

test('a cold start is asked for, waits for another boot, and counts once', async () => {
  const counting = tune('narrow', 1, 'echo 1 > setting; echo applied >> applied')
  const bench = createBench(planJson({ tunes: [counting], design: { tunes: ['narrow'], workloads: ['photo stack'], startsPerTune: 2, repeats: 1, start: 'cold' } }))
  const first = await bench.run()
  expect(first).toMatchObject({ outcome: 'person needed', finished: [] })
  expect(first.message).toContain('the tune "narrow" has been set, then power the machine off, wait, and power it on')
  expect(await bench.run(), 'the same boot').toMatchObject({ outcome: 'person needed', finished: [] })
  const second = await bench.run({ sources: createSources('boot-2'), terminal: quietTerminal([], ['cold']) })
  expect(second).toMatchObject({ outcome: 'person needed' })
  expect(second.finished).toEqual(['b1.t1', 'b1.t1.w1.r1'])
  expect(await bench.run({ sources: createSources('boot-3'), terminal: quietTerminal([], ['cold']) })).toMatchObject({ outcome: 'finished' })
  expect(ofType(bench.journals(), 'start').map(({ how, message }) => [how, message])).toEqual([['cold', undefined], ['cold', undefined]])
  // Once each time that a power-on was asked for; after it the tune is left alone, or the start would be a live one.
  expect(readFileSync(join(bench.folder, 'applied'), 'utf8').trim().split('\n')).toHaveLength(3)
})

test('what is set before a power-on stands in a journal of its own that holds no start', async () => {
  const bench = createBench(planJson({ design: { ...ONE_START, start: 'cold' } }))
  await bench.run()
  expect(bench.journals().map((bodies) => bodies.map(({ type }) => type))).toEqual([['open', 'note', 'close']])
  expect(bench.journals()[0][1]).toMatchObject({ text: 'putting the tune in force for b1.t1' })
  expect(bench.journals()[0][2]).toMatchObject({ reason: 'the tune "narrow" has been set; the cold start of b1.t1 is waited for' })
  await bench.run({ sources: createSources('boot-2') })
  expect(ofType(bench.journals(), 'start').map(({ result }) => result), 'a power-on that was asked for is no start that did not come about').toEqual(['started'])
})

test('a command that fails before a power-on is on record, and no power-on is asked for', async () => {
  const bench = createBench(planJson({ tunes: [tune('narrow', 1, 'echo "no such lever" >&2; exit 3')], design: { ...ONE_START, start: 'cold' } }))
  expect(await bench.run()).toMatchObject({ outcome: 'person needed', message: expect.stringContaining('no such lever') })
  expect(bench.journals()[0].at(-1)).toMatchObject({ type: 'close', reason: 'the command that puts the tune in force ended with status 3: no such lever' })
  expect(existsSync(join(bench.rigFolder, 'power-on.json'))).toBe(false)
})

test.each([
  ['cold', undefined, 'warm', 'planned as a cold start; the machine restarted, and nobody was there to say how, so it counts as a warm one'],
  ['restored', undefined, 'warm', 'planned as a restored start; the machine restarted, and nobody was there to say how, so it counts as a warm one'],
  ['warm', undefined, 'warm', undefined],
  ['cold', 'warm', 'warm', 'planned as a cold start; a person says that the machine came up by a warm one'],
  ['warm', 'cold', 'cold', 'planned as a warm start; a person says that the machine came up by a cold one'],
  ['restored', 'restored', 'restored', undefined],
])('a start planned as %s, of which a person says %s, is recorded as %s', async (planned, answer, how, message) => {
  const bench = createBench(planJson({ design: { ...ONE_START, start: planned } }))
  await bench.run()
  await bench.run({ sources: createSources('boot-2'), ...(answer === undefined ? {} : { terminal: quietTerminal([], [answer]) }) })
  const [start] = ofType(bench.journals(), 'start')
  expect([start.how, start.message]).toEqual([how, message])
})

test.each([
  [undefined, 'boot-2', 'warm'],
  ['cold', 'boot-2', 'cold'],
  [undefined, 'boot-1', 'live'],
])('of a live change resumed a person says %s, under %s: it is recorded as %s, and the changes after it as live', async (answer, boot, how) => {
  const bench = createBench()
  await bench.run({ disk: diskThatFailsAt('end', 2) })
  // A session that dies before its start is on record doesn't make the next one a live change.
  if (boot !== 'boot-1') await bench.run({ sources: createSources(boot), disk: diskThatFailsAt('start', 1), ...(answer === undefined ? {} : { terminal: quietTerminal([], ['unknown', answer]) }) })
  await bench.run({ sources: createSources(boot), ...(answer === undefined ? {} : { terminal: quietTerminal([], [answer]) }) })
  // The last run of the first start was resolved, so the next change is the first one made anew.
  expect(ofType(bench.journals(), 'start').map((start) => start.how)).toEqual(['live', how, 'live', 'live'])
})
