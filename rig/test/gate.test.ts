// The gate beyond commands: files, people, what workloads report of themselves, and memory training. No run may ever be booked under a wrong tune.
import { writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { expect, test } from 'vitest'
import type { JournalBody } from '@guardband/model'
import { playPeople } from './answers.ts'
import { ONE_START, SCORE, createBench, createSources, diskThatFailsAt, ofType, planJson, shell, tune, type Bench } from './kit.ts'

const CLOCK = { key: 'clock', selfReported: 'photo stack', reading: { pattern: 'clock: (.*)' }, expected: 5200, tolerance: 5, unit: 'MHz' }

test.each([
  [['yes please', '1250 mV'], 'narrow', 'seen by a person', 1.25],
  [['1.3', 'no'], null, 'seen by a person', 1.3],
  [['1.3', 'yes'], 'narrow', 'seen by a person', 1.3],
])('an observable that a person types: %j puts %s in force, %s', async (answers, inForce, known, found) => {
  const { people, asked } = playPeople(answers)
  const bench = bench1([{ key: 'core voltage', reading: { typed: 'What does the screen say?' }, expected: 1.25, tolerance: 0.005, unit: 'V' }])
  await bench.run({ people })
  expect(asked[0]).toEqual({ kind: 'value', step: 'tune narrow', text: 'core voltage: What does the screen say?', unit: 'V' })
  expect(ofType(bench.journals(), 'in force')[0]).toMatchObject({ tune: inForce, known, observed: [{ key: 'core voltage', expected: 1.25, found, unit: 'V', matches: found === 1.25 }] })
  expect(ofType(bench.journals(), 'start')[0].result).toBe(inForce === null ? 'fallback start' : 'started')
  expect(ofType(bench.journals(), 'begin')).toHaveLength(inForce === null ? 0 : 1)
})

test('a text that a person types is held as it is, without being asked for a number', async () => {
  const { people, asked } = playPeople([' quiet '])
  const bench = bench1([{ key: 'fan policy', reading: { typed: 'Which fan policy does the screen say?' }, expected: 'quiet' }])
  await bench.run({ people })
  expect(asked[0].unit).toBeUndefined()
  expect(ofType(bench.journals(), 'in force')[0]).toMatchObject({ tune: 'narrow', observed: [{ found: 'quiet', matches: true }] })
})

test('with nobody there an observable that a person types stops the plan, which goes on at that start', async () => {
  const bench = bench1([{ key: 'fan policy', reading: { typed: 'Which fan policy?' }, expected: 'quiet' }])
  expect(await bench.run()).toMatchObject({ outcome: 'person needed', finished: [], skipped: [] })
  expect(await bench.run({ people: playPeople(['quiet']).people })).toMatchObject({ outcome: 'finished', skipped: [] })
})

test('an observable from a file needs no command', async () => {
  const bench = bench1([{ key: 'clock', reading: { file: 'state.json', pointer: '/clock' }, expected: 5200 }])
  writeFileSync(join(bench.folder, 'state.json'), '{"clock": 5200}')
  await bench.run()
  expect(ofType(bench.journals(), 'in force')[0]).toMatchObject({ tune: 'narrow', known: 'read back' })
})

test('what a workload reports of itself: unverified until its first run, read back from the start\'s beginning on once it agrees', async () => {
  const bench = bench1([CLOCK], { workload: 'echo "score: 1"; echo "clock: 5203"', repeats: 3 })
  expect(await bench.run()).toMatchObject({ outcome: 'finished', skipped: [] })
  const held = ofType(bench.journals(), 'in force')
  expect(held).toMatchObject([{ tune: 'narrow', known: 'unverified', observed: [] }, { tune: 'narrow', known: 'read back', observed: [{ key: 'clock', expected: 5200, found: 5203, unit: 'MHz', matches: true }] }])
  expect(new Set(held.map(({ inForceId }) => inForceId)).size, 'one stretch: two would count one start twice').toBe(1)
  expect(new Set(ofType(bench.journals(), 'begin').map(({ inForceId }) => inForceId)).size).toBe(1)
  expect(ofType(bench.journals(), 'end').map(({ outcome }) => outcome)).toEqual(['scored', 'scored', 'scored'])
})

test('a run that reports another tune ends as a fallback start with the reading; the start so far has no tune, and the rest of it is not run', async () => {
  const bench = twoWorkloads('echo "score: 2"; echo "clock: 4000"; echo trace >&2')
  const result = await bench.run()
  expect(result).toMatchObject({ outcome: 'finished', skipped: ['b', 'b2', 'a2'] })
  expect(summary(bench)).toEqual([
    'start started', 'in force narrow unverified', 'done c', 'begin a', 'end a scored', 'begin r', 'in force null read back', 'end r fallback start', 'done b', 'done b2', 'done a2',
    'start started', 'in force wide read back', 'done c2', 'begin w', 'end w scored',
  ])
  const [, second] = ofType(bench.journals(), 'in force')
  expect(ofType(bench.journals(), 'begin').slice(0, 2).every(({ inForceId }) => inForceId === second.inForceId), 'the runs before it as well').toBe(true)
  const end = ofType(bench.journals(), 'end')[1]
  expect(end.message).toBe('the tune is not in force, as "photo stack" itself reports: clock must read 5200 ± 5 MHz; got 4000')
  expect(end.kept?.map(({ what }) => what)).toEqual(['output', 'error output'])
  expect(ofType(bench.journals(), 'done').filter(({ step }) => step === 'b')[0].message).toMatch(/^not run: the tune is not in force/)
  expect(bench.said.join('\n')).toContain('3 runs of this tune are not run')
})

test('a run that ended well and does not report what it should contradicts the tune too', async () => {
  const bench = bench1([CLOCK], { workload: 'echo "score: 1"', repeats: 2 })
  expect(await bench.run()).toMatchObject({ skipped: ['b1.t1.w1.r2'] })
  expect(ofType(bench.journals(), 'end')[0]).toMatchObject({ outcome: 'fallback start', measures: [{ value: 1 }] })
})

test.each([
  ['exit 3', 'errors', undefined],
  ['printf "clock: 4"; kill -KILL $$', 'program died', undefined],
  ['echo "clock: 4000"; kill -KILL $$', 'fallback start', 'got 4000; program died; died by SIGKILL'],
  ['echo "clock: 4000"; exit 3', 'fallback start', 'got 4000; errors; ended with status 3'],
])('a first run of %s ends as %s: what it did not come to report, the next one may', async (script, outcome, message) => {
  const bench = bench1([CLOCK], { workload: `test -f second && { echo "score: 1"; echo "clock: 5200"; exit; }; touch second; ${script}`, repeats: 2 })
  await bench.run()
  const ends = ofType(bench.journals(), 'end')
  expect(ends[0].outcome).toBe(outcome)
  if (message !== undefined) expect(ends[0].message).toContain(message)
  else expect(ofType(bench.journals(), 'in force').at(-1)).toMatchObject({ tune: 'narrow', known: 'read back' })
  expect(ends).toHaveLength(message === undefined ? 2 : 1)
})

test('what others read and what a workload reports stand together', async () => {
  const { readBack } = tune('narrow', 1)
  const bench = bench1([...(readBack as readonly unknown[]), CLOCK], { workload: 'echo "score: 1"; echo "clock: 5200"' })
  await bench.run()
  expect(ofType(bench.journals(), 'in force').map(({ known, observed }) => [known, observed.map(({ key }) => key)])).toEqual([['read back', ['setting']], ['read back', ['setting', 'clock']]])
})

test('cut anywhere while a report that contradicts is written, no run is left under the tune', async () => {
  // The end that goes with it is never written: the run is resolved, and what it refers to says that no tune was in force, or it stands alone.
  const bench = bench1([CLOCK], { workload: 'echo "score: 1"; echo "clock: 4000"', repeats: 2 })
  await bench.run({ disk: diskThatFailsAt('end', 1) })
  expect(await bench.run({ sources: createSources('boot-2') })).toMatchObject({ outcome: 'finished' })
  const bodies = bench.journals().flat()
  const tunes = new Map(ofType([bodies], 'in force').map(({ inForceId, tune }) => [inForceId, tune]))
  for (const end of ofType([bodies], 'end')) expect(tunes.get(ofType([bodies], 'begin').find(({ runId }) => runId === end.runId)?.inForceId ?? '')).toBeNull()
  expect(ofType([bodies], 'resolved').map(({ outcome }) => outcome)).toEqual(['machine reset'])
  expect(ofType([bodies], 'end').every(({ outcome }) => outcome === 'fallback start')).toBe(true)
})

const TRAINING = { command: shell('cat training'), result: { pattern: 'result (\\S+)' }, tries: { pattern: 'tries (\\S+)' }, seconds: { pattern: 'seconds (\\S+)' }, postCode: { pattern: 'code (\\S+)' } }

test.each([
  ['result full\ntries 2\nseconds 31.5\ncode A2', { result: 'full', tries: 2, seconds: 31.5, postCode: 'A2' }, 'started', undefined],
  ['result Restored\ntries 1\nseconds 0\ncode 00', { result: 'restored', tries: 1, seconds: 0, postCode: '00' }, 'started', undefined],
  ['result fallback\ntries 5\nseconds 90\ncode 55', { result: 'fallback', tries: 5, seconds: 90, postCode: '55' }, 'fallback start', 'memory training reads "fallback"'],
  ['result failed\ntries 5\nseconds 90\ncode 55', { result: 'failed', tries: 5, seconds: 90, postCode: '55' }, 'fallback start', 'memory training reads "failed"'],
  ['result odd\ntries 1.5\nseconds -3\ncode 55', { result: 'unknown', postCode: '55' }, 'started', 'memory training must read full, restored, failed, fallback; got "odd"; memory training: tries must be a whole number, zero or above; got 1.5; memory training: seconds must be zero or above; got -3'],
])('after a power-on, training that tells %j is on record, and the start is a %s', async (told, training, result, message) => {
  const bench = await afterPowerOn({ training: TRAINING }, told)
  const start = ofType(bench.journals(), 'start')[0]
  expect(start).toMatchObject({ training, result })
  expect(start.message).toBe(message)
  expect(Object.keys(start.training ?? {})).toEqual(Object.keys(training))
  // The observables match all the while: they can't tell.
  expect(ofType(bench.journals(), 'in force')[0]).toMatchObject({ tune: result === 'started' ? 'narrow' : null, observed: [{ matches: true }] })
  expect(ofType(bench.journals(), 'begin')).toHaveLength(result === 'started' ? 1 : 0)
})

test.each([
  ['yes', 'narrow', 'seen by a person'],
  ['no', null, 'read back'],
])('after a training that fell back a person may say otherwise: %s', async (answer, inForce, known) => {
  const bench = await afterPowerOn({ training: TRAINING }, 'result fallback', ['cold', answer])
  expect(ofType(bench.journals(), 'in force')[0]).toMatchObject({ tune: inForce, known })
})

test('training is not asked of a live start, and a command that fails makes it unknown, with its reason', async () => {
  const live = createBench(planJson({ training: { ...TRAINING, command: shell('touch asked') }, design: ONE_START }))
  await live.run()
  expect(ofType(live.journals(), 'start')[0].training).toBeUndefined()
  const bench = await afterPowerOn({ training: { ...TRAINING, command: shell('exit 7') } }, '')
  expect(ofType(bench.journals(), 'start')[0]).toMatchObject({ training: { result: 'unknown' }, result: 'started', message: 'what tells of memory training: its command ended with status 7' })
})

test('a training that a person reads off the machine is asked for where one is there, and unknown where nobody is', async () => {
  const training = { result: { typed: 'What did memory training come to?' }, postCode: { typed: 'Which POST code?' } }
  const seen = await afterPowerOn({ training }, '', ['cold', 'full', 'A2'])
  expect(ofType(seen.journals(), 'start')[0].training).toEqual({ result: 'full', postCode: 'A2' })
  const alone = await afterPowerOn({ training }, '')
  expect(ofType(alone.journals(), 'start')[0]).toMatchObject({ training: { result: 'unknown' }, result: 'started', message: expect.stringContaining('nobody was there to be asked about memory training') })
})

function bench1(readBack: readonly unknown[], { workload = 'echo "score: 1"', repeats = 1 }: { readonly workload?: string; readonly repeats?: number } = {}): Bench {
  return createBench(planJson({ tunes: [{ name: 'narrow', apply: shell('echo 1 > setting'), readBack }], workloads: [{ name: 'photo stack', command: shell(workload), measures: [SCORE] }], design: { ...ONE_START, repeats } }))
}

const run = (id: string, workload: string) => ({ id, kind: 'run', workload })

function twoWorkloads(script: string): Bench {
  return createBench(planJson({
    tunes: [{ name: 'narrow', apply: shell('echo 1 > setting'), readBack: [CLOCK] }, tune('wide', 2)],
    workloads: [{ name: 'photo stack', command: shell(script), measures: [SCORE] }, { name: 'code build', command: shell('echo "score: 1"'), measures: [SCORE] }],
    design: undefined,
    steps: [{ id: 'c', kind: 'change', tune: 'narrow', start: 'live' }, run('a', 'code build'), run('r', 'photo stack'), run('b', 'code build'), run('b2', 'photo stack'), run('a2', 'code build'), { id: 'c2', kind: 'change', tune: 'wide', start: 'live' }, run('w', 'code build')],
  }))
}

async function afterPowerOn(more: Readonly<Record<string, unknown>>, told: string, answers?: readonly string[]): Promise<Bench> {
  // With nobody there a restart counts as a warm one.
  const bench = createBench(planJson({ design: { ...ONE_START, start: answers === undefined ? 'warm' : 'cold' }, ...more }))
  writeFileSync(join(bench.folder, 'training'), `${told}\n`)
  await bench.run()
  await bench.run({ sources: createSources('boot-2'), ...(answers === undefined ? {} : { people: playPeople(answers).people }) })
  return bench
}

const words = (body: JournalBody): string | null => {
  switch (body.type) {
    case 'start':
      return `start ${body.result}`
    case 'in force':
      return `in force ${body.tune ?? 'null'} ${body.known}`
    case 'begin':
    case 'done':
      return `${body.type} ${body.step}`
    case 'end':
      return `end ${body.step} ${body.outcome}`
    default:
      return null
  }
}

function summary(bench: Bench): readonly string[] {
  return bench.journals().flat().flatMap((body) => words(body) ?? [])
}
