// Carrying out plans: what the journals say of gates, failures, stops and resumptions.
import { chmodSync, copyFileSync, existsSync, readFileSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { expect, test } from 'vitest'
import { nodeDisk, type JournalDisk } from '../index.ts'
import { ONE_START, SCORE, createBench, createSources, diskThatFailsAt, ofType, planJson, quietTerminal, shell, tune } from './kit.ts'

test('a plan of two tunes runs to its end: a journal a start, each run begun and ended once, the tune read back', async () => {
  const bench = createBench()
  const result = await bench.run()
  expect(result).toMatchObject({ outcome: 'finished', message: null, skipped: [] })
  const journals = bench.journals()
  expect(result.journals).toHaveLength(4)
  expect(journals.map((bodies) => bodies.map(({ type }) => type).filter((type) => type !== 'note'))).toEqual(
    Array.from({ length: 4 }, () => ['open', 'start', 'in force', 'done', 'begin', 'end', 'begin', 'end', 'close']),
  )
  expect(ofType(journals, 'in force').map(({ tune, known }) => [tune, known])).toEqual([['narrow', 'read back'], ['wide', 'read back'], ['wide', 'read back'], ['narrow', 'read back']])
  expect(ofType(journals, 'end').map(({ measures }) => measures[0].value)).toEqual([1, 1, 2, 2, 2, 2, 1, 1])
  expect(ofType(journals, 'open').map(({ startOrder }) => startOrder)).toEqual([0, 1, 2, 3])
  expect(ofType(journals, 'begin').map(({ order }) => order)).toEqual([0, 1, 0, 1, 0, 1, 0, 1])
})

test('a finished plan that is run again does nothing', async () => {
  const bench = createBench()
  await bench.run()
  const again = await bench.run()
  expect(again).toMatchObject({ outcome: 'finished', journals: [] })
  expect(bench.journals()).toHaveLength(4)
})

test('where read-back differs, nothing runs under that tune, and the plan goes on with the next start', async () => {
  const bench = createBench(planJson({ tunes: [tune('narrow', 1), tune('wide', 2, 'echo 1 > setting')] }))
  const result = await bench.run()
  expect(result.outcome).toBe('finished')
  expect(result.skipped).toEqual(['b1.t2.w1.r1', 'b1.t2.w1.r2', 'b2.t2.w1.r1', 'b2.t2.w1.r2'])
  const journals = bench.journals()
  expect(ofType(journals, 'start').map(({ tune, result }) => [tune, result])).toEqual([['narrow', 'started'], ['wide', 'fallback start'], ['wide', 'fallback start'], ['narrow', 'started']])
  expect(ofType(journals, 'in force')[1]).toMatchObject({ tune: null, known: 'read back', observed: [{ key: 'setting', expected: 2, found: 1, matches: false }] })
  expect(ofType(journals, 'begin').map(({ step }) => step.slice(0, 5))).toEqual(['b1.t1', 'b1.t1', 'b2.t1', 'b2.t1'])
  expect(ofType(journals, 'done').filter(({ message }) => message?.startsWith('not run')).map(({ step }) => step)).toEqual(result.skipped)
})

test.each([
  [0.3, 0.1, '0.4', true],
  [0.3, 0.1, '0.41', false],
  [5, undefined, '5.0', true],
  ['quiet', undefined, ' quiet ', true],
  ['quiet', undefined, 'Quiet', false],
])('read-back holds %s with tolerance %s against "%s": %s', async (expected, tolerance, printed, matches) => {
  const readBack = [{ key: 'setting', command: shell(`echo "${printed}"`), reading: { pattern: '(.*)' }, expected, tolerance }]
  const bench = createBench(planJson({ tunes: [{ name: 'narrow', apply: shell(':'), readBack }], design: { tunes: ['narrow'], workloads: ['photo stack'], startsPerTune: 1, repeats: 1 } }))
  writeFileSync(join(bench.folder, 'setting'), '1')
  await bench.run()
  expect(ofType(bench.journals(), 'in force')[0].tune).toBe(matches ? 'narrow' : null)
})

test('a tune with nothing to read back is in force unverified, and the terminal says so', async () => {
  const bench = createBench(planJson({ tunes: [{ name: 'narrow', apply: shell('echo 1 > setting') }], design: { tunes: ['narrow'], workloads: ['photo stack'], startsPerTune: 1, repeats: 1 } }))
  await bench.run()
  expect(ofType(bench.journals(), 'in force')[0]).toMatchObject({ tune: 'narrow', known: 'unverified' })
  expect(bench.said.join('\n')).toContain('in force unverified')
})

const SETTINGS = [{ key: 'boost limit', asked: { shape: 'scalar', value: 95, unit: 'W' } }, { key: 'offset', scope: { level: 'core', index: '3' }, asked: { shape: 'scalar', value: -20, unit: 'mV' } }]

test.each([
  ['yes', 'narrow', 'started', []],
  ['no', null, 'fallback start', ['b1.t1.w1.r1']],
])('with nothing to read back a person at the terminal is shown the settings and says %s: the tune in force is %s, as seen by them', async (answer, inForce, result, skipped) => {
  const said: string[] = []
  const bench = createBench(planJson({ tunes: [{ name: 'narrow', settings: SETTINGS, apply: shell('echo 1 > setting') }], design: ONE_START }))
  // An answer that is neither is asked again.
  expect(await bench.run({ terminal: quietTerminal(said, ['', answer]) })).toMatchObject({ outcome: 'finished', skipped })
  expect(said).toEqual(expect.arrayContaining(['    boost limit: 95 W', '    offset (core 3): −20 mV', 'Look at the machine: is this what is in force? Type yes or no.', 'Type yes or no.']))
  expect(ofType(bench.journals(), 'in force')[0]).toMatchObject({ tune: inForce, known: 'seen by a person', observed: [] })
  expect(ofType(bench.journals(), 'start')[0].result).toBe(result)
})

test('a tune put in force by hand with nothing to read back is asked for and then confirmed', async () => {
  const said: string[] = []
  const bench = createBench(planJson({ tunes: [{ name: 'narrow', settings: SETTINGS }], workloads: [{ name: 'photo stack', command: shell('echo "score: 1"'), measures: [SCORE] }], design: ONE_START }))
  expect(await bench.run({ terminal: quietTerminal(said, ['', 'yes']) })).toMatchObject({ outcome: 'finished', skipped: [] })
  expect(ofType(bench.journals(), 'in force')[0]).toMatchObject({ tune: 'narrow', known: 'seen by a person' })
})

test.each([
  ['yes', 'narrow', 'seen by a person', 'started', 'setting must read 2; got 1; a person says that the settings asked for are in force all the same'],
  ['no', null, 'read back', 'fallback start', 'setting must read 2; got 1; a person confirms that the settings asked for are not in force'],
])('where read-back differs a person at the terminal is shown it and says %s: the tune in force is %s, %s', async (answer, inForce, known, result, message) => {
  const said: string[] = []
  const bench = createBench(planJson({ tunes: [tune('narrow', 2, 'echo 1 > setting')], design: ONE_START }))
  expect(await bench.run({ terminal: quietTerminal(said, [answer]) })).toMatchObject({ outcome: 'finished', skipped: inForce === null ? ['b1.t1.w1.r1'] : [] })
  expect(said).toContain('    setting must read 2; got 1')
  expect(ofType(bench.journals(), 'in force')[0]).toMatchObject({ tune: inForce, known, observed: [{ key: 'setting', expected: 2, found: 1, matches: false }] })
  expect(ofType(bench.journals(), 'start')[0]).toMatchObject({ result, message })
})

test('a tune whose apply command fails is not in force, whatever can be read back', async () => {
  const bench = createBench(planJson({ tunes: [tune('narrow', 1), tune('wide', 2, 'echo 2 > setting; echo "no such lever" >&2; exit 3')] }))
  await bench.run()
  const journals = bench.journals()
  expect(ofType(journals, 'start')[1]).toMatchObject({ result: 'fallback start', message: 'the command that puts the tune in force ended with status 3: no such lever' })
  expect(ofType(journals, 'in force')[1].tune).toBeNull()
})

test('a tune without a command waits for a person: asked on a terminal, a stop with a sentence without one', async () => {
  const json = planJson({ tunes: [{ ...tune('narrow', 1), apply: undefined }], design: { tunes: ['narrow'], workloads: ['photo stack'], startsPerTune: 1, repeats: 1 } })
  const bench = createBench(json)
  writeFileSync(join(bench.folder, 'setting'), '1')
  const alone = await bench.run()
  expect(alone.outcome).toBe('person needed')
  expect(alone.message).toContain('Put the tune "narrow" in force')
  const said: string[] = []
  const asked = await bench.run({ terminal: quietTerminal(said, ['']) })
  expect(asked.outcome).toBe('finished')
  expect(said.join('\n')).toContain('Put the tune "narrow" in force')
})

test('a prompt is asked once, and its answer is on record even when no start is open', async () => {
  const steps = [{ id: 'fit', kind: 'prompt', text: 'Fit sample Q14-02.' }, { id: 'c', kind: 'change', tune: 'narrow', start: 'live' }, { id: 'r', kind: 'run', workload: 'photo stack' }]
  const bench = createBench(planJson({ design: undefined, steps }))
  const said: string[] = []
  await bench.run({ terminal: quietTerminal(said, ['']) })
  expect(said.filter((line) => line.startsWith('Fit sample'))).toHaveLength(1)
  expect(ofType(bench.journals(), 'done').map(({ step }) => step)).toEqual(['fit', 'c'])
  await bench.run({ terminal: quietTerminal(said, ['']) })
  expect(said.filter((line) => line.startsWith('Fit sample'))).toHaveLength(1)
})

test.each([
  ['echo "score: 3"', 'scored', undefined],
  ['exit 4', 'errors', 'ended with status 4'],
  ['echo "no lever" >&2; exit 4', 'errors', 'ended with status 4: no lever'],
  ['kill -SEGV $$', 'program died', /^died by SIGSEGV after/],
  ['echo nothing', 'wrong result', 'score: the pattern score: (\\S+) was not found in the output'],
  ['echo "score: 1e999"', 'wrong result', 'score: a finite number was expected; got "1e999".'],
  ['echo "score: NaN"', 'wrong result', 'score: a finite number was expected; got "NaN".'],
  ['echo "score: 3,5"', 'wrong result', 'score: a finite number was expected; got "3,5". Numbers need a decimal point.'],
  ['echo "score: 0"', 'wrong result', 'score: a value in points must be above zero; got 0'],
  ['echo "score: -3"', 'wrong result', 'score: a value in points must be above zero; got -3'],
])('a run of %s ends as %s', async (script, outcome, message) => {
  const bench = createBench(single(script))
  await bench.run()
  const [end] = ofType(bench.journals(), 'end')
  expect(end.outcome).toBe(outcome)
  if (message === undefined) expect(end.message).toBeUndefined()
  else expect(end.message).toMatch(message)
})

test('zero and below are values like any other in a unit without a meaningful zero', async () => {
  const bench = createBench(planJson({ workloads: [{ name: 'photo stack', command: shell('echo "score: -3"'), measures: [{ ...SCORE, unit: 'degC', direction: 'lower is better' }] }], design: ONE_START }))
  await bench.run()
  expect(ofType(bench.journals(), 'end')[0]).toMatchObject({ outcome: 'scored', measures: [{ name: 'score', value: -3 }] })
})

test('a run past its time limit is hung, and all that it started is gone', async () => {
  const bench = createBench(single('(trap "" TERM; sleep 30; echo late > late) & echo $! > grandchild; sleep 30', { timeLimitSeconds: 0.3 }))
  await bench.run()
  expect(ofType(bench.journals(), 'end')[0]).toMatchObject({ outcome: 'hung', measures: [] })
  expect(isAlive(Number(readFileSync(join(bench.folder, 'grandchild'), 'utf8')))).toBe(false)
})

test('what a run leaves in the background is ended with it', async () => {
  const bench = createBench(single('sleep 30 & echo $! > grandchild; echo "score: 1"'))
  await bench.run()
  expect(ofType(bench.journals(), 'end')[0].outcome).toBe('scored')
  expect(isAlive(Number(readFileSync(join(bench.folder, 'grandchild'), 'utf8')))).toBe(false)
})

test('a result file left over from the run before is no result', async () => {
  const measure = { ...SCORE, reading: { file: 'result.json', pointer: '/score' } }
  const script = 'test -f result.json || echo \'{"score": 7}\' > result.json'
  const bench = createBench(planJson({ workloads: [{ name: 'photo stack', command: shell(script), measures: [measure] }], design: { tunes: ['narrow'], workloads: ['photo stack'], startsPerTune: 1, repeats: 2 } }))
  await bench.run()
  expect(ofType(bench.journals(), 'end').map(({ outcome, message }) => [outcome, message])).toEqual([['scored', undefined], ['wrong result', 'score: result.json was not written by this run']])
})

test('a person who stops a plan ends the run in flight; that run is carried out afresh the next time', async () => {
  const bench = createBench(single('test -f second && { echo "score: 1"; exit; }; touch second; sleep 30'))
  const stop = new AbortController()
  const running = bench.run({ signal: stop.signal })
  await until(() => existsSync(join(bench.folder, 'second')))
  stop.abort()
  expect(await running).toMatchObject({ outcome: 'stopped by a person' })
  expect(bench.journals()[0].at(-1)).toMatchObject({ type: 'close', reason: 'stopped by a person' })
  expect(await bench.run()).toMatchObject({ outcome: 'finished' })
  expect(ofType(bench.journals(), 'end').map(({ step, outcome }) => [step, outcome])).toEqual([['b1.t1.w1.r1', 'stopped by a person'], ['b1.t1.w1.r1', 'scored']])
})

test.each([
  ['boot-1', 'program died', 'The boot id is the same'],
  ['boot-2', 'machine reset', 'The boot id is another one (boot-1 then, boot-2 now)'],
])('a step in flight is resolved in the next journal under boot id %s as: %s', async (bootId, outcome, evidence) => {
  const bench = createBench()
  // The journal as it would stand after a crash in the second run: its end and everything later was never written.
  await bench.run({ disk: diskThatFailsAt('end', 2) })
  expect(ofType(bench.journals(), 'begin')).toHaveLength(2)
  await bench.run({ sources: createSources(bootId) })
  const [, second] = bench.journals()
  expect(second.map(({ type }) => type).slice(0, 4)).toEqual(['open', 'resolved', 'note', 'start'])
  expect(second[1]).toMatchObject({ step: 'b1.t1.w1.r2', outcome })
  expect(second[1]).toMatchObject({ evidence: expect.stringContaining(evidence) })
  const finishing = bench.journals().flat().flatMap((body) => (body.type === 'end' || body.type === 'resolved' ? [body.step] : []))
  expect(new Set(finishing).size).toBe(finishing.length)
  expect(finishing).toHaveLength(8)
})

test('a machine that restarts while a tune is put in force leaves a start that did not come about; the second time the tune is not tried again', async () => {
  const bench = createBench()
  // As after a restart in the middle of the apply command: nothing from the start record on was ever written.
  await bench.run({ disk: diskThatFailsAt('start', 1) })
  await bench.run({ sources: createSources('boot-2'), disk: diskThatFailsAt('start', 2) })
  expect(ofType(bench.journals(), 'start').map(({ tune, result }) => [tune, result])).toEqual([['narrow', 'no start']])
  const last = await bench.run({ sources: createSources('boot-3') })
  expect(last, 'nor in a later start: it has failed').toMatchObject({ outcome: 'finished', skipped: ['b1.t1.w1.r1', 'b1.t1.w1.r2', 'b2.t1.w1.r1', 'b2.t1.w1.r2'] })
  const journals = bench.journals()
  expect(ofType(journals, 'start').map(({ tune, result }) => [tune, result])).toEqual([['narrow', 'no start'], ['narrow', 'no start'], ['wide', 'started'], ['wide', 'started']])
  const booked = journals.filter((bodies) => bodies.some((body) => body.type === 'start' && body.result === 'no start'))
  expect(booked.map((bodies) => bodies.map(({ type }) => type))).toEqual([['open', 'start', 'in force', 'close'], ['open', 'start', 'in force', 'done', 'done', 'done', 'close']])
  expect(ofType(booked, 'in force').map(({ tune }) => tune)).toEqual([null, null])
  expect(ofType(journals, 'end').map(({ step }) => step)).toEqual(expect.not.arrayContaining(['b1.t1.w1.r1']))
  expect(bench.said.join('\n')).toContain('2 times now: it is not tried again; 2 of its runs are not run.')
  expect(await bench.run({ sources: createSources('boot-4') })).toMatchObject({ outcome: 'finished', journals: [] })
})

test('a program that died while a tune was put in force just puts it in force again', async () => {
  const bench = createBench()
  for (const nth of [1, 1, 1]) await bench.run({ disk: diskThatFailsAt('start', nth) })
  expect(await bench.run()).toMatchObject({ outcome: 'finished', skipped: [] })
  expect(new Set(ofType(bench.journals(), 'start').map(({ result }) => result))).toEqual(new Set(['started']))
})

test('a resolved last run leaves nothing to run, and is still put on record', async () => {
  const bench = createBench(single('echo "score: 1"'))
  await bench.run({ disk: diskThatFailsAt('end', 1) })
  expect(await bench.run()).toMatchObject({ outcome: 'finished' })
  expect(bench.journals()[1].map(({ type }) => type)).toEqual(['open', 'resolved', 'close'])
})

test.each(['begin', 'end', 'heartbeat', 'start', 'open'])('a failure to write or sync %s stops the plan at once; nothing is written after it', async (type) => {
  const bench = createBench(single(type === 'heartbeat' ? 'sleep 5; touch came-to-its-end' : 'echo "score: 1"'))
  const disk = diskThatFailsAt(type, 1)
  const result = await bench.run({ disk, heartbeatSeconds: 0.1 })
  expect(result.outcome).toBe('journal failed')
  expect(result.message).toContain('the journal could not be written (no space left), so the plan stops here.')
  expect(disk.callsAfterFailure()).toEqual([])
  expect(ofType(bench.journals(), 'close')).toEqual([])
  expect(existsSync(join(bench.folder, 'came-to-its-end')), 'the run in flight is ended').toBe(false)
})

test('a failed sync counts like a failed write', async () => {
  const bench = createBench()
  const disk = diskThatFailsAt('begin', 2, 'sync')
  expect(await bench.run({ disk })).toMatchObject({ outcome: 'journal failed' })
  expect(disk.callsAfterFailure()).toEqual([])
})

test('no step begins on a disk that is nearly full', async () => {
  const bench = createBench()
  let asked = 0
  const filling: JournalDisk = { ...nodeDisk, freeBytes: async () => (++asked > 2 ? 1e6 : 1e12) }
  const result = await bench.run({ disk: filling })
  expect(result.outcome).toBe('disk full')
  expect(result.message).toContain('a step begins only with 64 MiB free on the disk; got 1 MiB.')
  expect(ofType(bench.journals(), 'begin')).toHaveLength(1)
})

test('a program that changes while a plan runs is refused before its next execution', async () => {
  const json = single('./work.sh', {}, 3)
  const folder = createBench().folder
  copyFileSync('/bin/sh', join(folder, 'tool'))
  chmodSync(join(folder, 'tool'), 0o755)
  const command = { run: ['./tool', '-c', 'echo "score: 1"; cp tool tool.next; echo >> tool.next; mv tool.next tool'] }
  const bench = createBench({ ...json, workloads: [{ name: 'photo stack', command, measures: [SCORE] }] }, folder)
  const result = await bench.run()
  expect(result.outcome).toBe('not approved')
  expect(result.message).toContain('the program file')
  expect(result.message).toContain('has changed')
  expect(ofType(bench.journals(), 'end')).toHaveLength(1)
  expect(bench.journals()[0].at(-1)?.type).toBe('close')
})

function single(script: string, more: Readonly<Record<string, unknown>> = {}, repeats = 1): Readonly<Record<string, unknown>> {
  return planJson({
    workloads: [{ name: 'photo stack', command: shell(script, more), measures: [SCORE] }],
    design: { tunes: ['narrow'], workloads: ['photo stack'], startsPerTune: 1, repeats },
  })
}

function isAlive(pid: number): boolean {
  try {
    // A zombie still has its number; only its state tells.
    return !/^State:\s+Z/m.test(readFileSync(`/proc/${pid}/status`, 'utf8'))
  } catch {
    return false
  }
}

async function until(condition: () => boolean): Promise<void> {
  while (!condition()) await new Promise((resolve) => setTimeout(resolve, 10))
}
