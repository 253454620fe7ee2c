// Ladders: how far they climb, and what ends them.
import { expect, test } from 'vitest'
import { SCORE, createBench, createSources, diskThatFailsAt, ofType, planJson, shell, tune, type Bench } from './kit.ts'

test('a ladder climbs until its failures are reached', async () => {
  const tunes = [tune('step 1', 1), tune('step 2', 2), tune('step 3', 3), tune('step 4', 4)]
  const workloads = [{ name: 'photo stack', command: shell('s=$(cat setting); test $s -lt 3 && echo "score: $s"'), measures: [SCORE] }]
  const ladder = { id: 'climb', kind: 'ladder', tunes: tunes.map(({ name }) => name), workload: 'photo stack', repeats: 2, start: 'live', stopAfterFailures: 1 }
  const bench = createBench(planJson({ tunes, workloads, design: undefined, steps: [ladder] }))
  expect(await bench.run()).toMatchObject({ outcome: 'finished' })
  expect(ofType(bench.journals(), 'end').map(({ step, outcome }) => `${step} ${outcome}`)).toEqual([
    'climb/t1/r1 scored', 'climb/t1/r2 scored', 'climb/t2/r1 scored', 'climb/t2/r2 scored', 'climb/t3/r1 errors',
  ])
  expect(new Set(ofType(bench.journals(), 'open').map(({ step }) => step))).toEqual(new Set(['climb']))
})

const STEEP = { tunes: [1, 2, 3, 4].map((value) => tune(`step ${value}`, value)), design: undefined, steps: [{ id: 'climb', kind: 'ladder', tunes: ['step 1', 'step 2', 'step 3', 'step 4'], workload: 'photo stack', repeats: 2, start: 'live', stopAfterFailures: 9 }] }

test('a ladder ends at a machine reset, however many failures it may have', async () => {
  const bench = createBench(planJson(STEEP))
  await bench.run({ disk: diskThatFailsAt('end', 3) })
  expect(await bench.run({ sources: createSources('boot-2') })).toMatchObject({ outcome: 'finished' })
  expect(endings(bench)).toEqual(['climb/t1/r1 scored', 'climb/t1/r2 scored', 'climb/t2/r1 machine reset'])
  expect(await bench.run({ sources: createSources('boot-2') }), 'and is not taken up again').toMatchObject({ outcome: 'finished', journals: [] })
})

test('a ladder whose program died on the same boot climbs on until its failures are reached', async () => {
  const bench = createBench(planJson(STEEP))
  await bench.run({ disk: diskThatFailsAt('end', 3) })
  await bench.run()
  expect(endings(bench)).toHaveLength(8)
})

test('a ladder ends at a hang, however many failures it may have', async () => {
  const bench = createBench(planJson({ ...STEEP, workloads: [{ name: 'photo stack', command: shell('test $(cat setting) = 2 && sleep 30; echo "score: 1"', { timeLimitSeconds: 0.3 }), measures: [SCORE] }] }))
  await bench.run()
  expect(endings(bench)).toEqual(['climb/t1/r1 scored', 'climb/t1/r2 scored', 'climb/t2/r1 hung'])
})

test('a ladder ends where the machine restarts while a rung is put in force, at the first time', async () => {
  const bench = createBench(planJson(STEEP))
  await bench.run({ disk: diskThatFailsAt('start', 2) })
  expect(await bench.run({ sources: createSources('boot-2') })).toMatchObject({ outcome: 'finished', skipped: ['climb/t2/r1', 'climb/t2/r2'] })
  expect(endings(bench)).toEqual(['climb/t1/r1 scored', 'climb/t1/r2 scored'])
  expect(await bench.run({ sources: createSources('boot-2') })).toMatchObject({ outcome: 'finished', journals: [] })
})

function endings(bench: Bench): readonly string[] {
  return bench.journals().flat().flatMap((body) => (body.type === 'end' || body.type === 'resolved' ? [`${body.step} ${body.outcome}`] : []))
}
