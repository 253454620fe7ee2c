// A machine under test that runs nothing of ours: asked for its boot, brought back when it stands still, powered for cold starts, all by approved commands.
import { writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { expect, test } from 'vitest'
import { createBench, createSources, ofType, planJson, SCORE, shell, temporaryFolder, tune } from './kit.ts'

/** Its boot is a number in a file; while it hangs, nothing answers. */
const BOOT = 'test ! -e hangs && cat boot'
const MACHINE = {
  boot: { command: shell(BOOT), reading: { pattern: '(\\d+)' } },
  silenceSeconds: 20,
  powerOn: { cold: shell('rm -f hangs; echo $(( $(cat boot) + 1 )) > boot; echo cold >> powered') },
  recover: [shell('echo pressed >> switch; test -e broken || { rm -f hangs; echo $(( $(cat boot) + 1 )) > boot; }')],
  recoverSeconds: 30,
}
const STEPS = (start: string) => [{ id: 'c1', kind: 'change', tune: 'narrow', start }, ...[1, 2, 3].map((number) => ({ id: `r${number}`, kind: 'run', workload: 'photo stack' }))]

function machineBench(script: string, start = 'live', more: Readonly<Record<string, unknown>> = {}) {
  const folder = temporaryFolder()
  writeFileSync(join(folder, 'boot'), '1\n')
  const { design: _design, ...plan } = planJson({
    tunes: [tune('narrow', 1)], machine: MACHINE, limits: { graceSeconds: 0 }, steps: STEPS(start),
    workloads: [{ name: 'photo stack', command: shell(`echo x >> count; COUNT=$(wc -l < count | tr -d ' '); ${script}; echo "score: $(cat setting)"`), measures: [SCORE] }],
    ...more,
  })
  let seconds = 0
  // Its waits take no time: the clock is moved on by them alone.
  const sources = { ...createSources('boot of the rig'), monotonic: () => seconds, sleep: async (milliseconds: number) => void (seconds += milliseconds / 1000) }
  const bench = createBench(plan, folder)
  return { ...bench, run: () => bench.run({ sources }) }
}

test('a machine that resets in a run is seen to have restarted, and the start is over', async () => {
  const bench = machineBench('test $COUNT != 2 || { echo 2 > boot; exit 1; }')
  expect(await bench.run()).toMatchObject({ outcome: 'finished' })
  expect(ofType(bench.journals(), 'end').map(({ step, outcome }) => [step, outcome])).toEqual([['r1', 'scored'], ['r2', 'machine reset'], ['r3', 'scored']])
  expect(ofType(bench.journals(), 'end')[1].message).toContain('the machine under test restarted; ended with status 1')
  expect(ofType(bench.journals(), 'open').map(({ bootId }) => bootId)).toEqual(['1', '2'])
  expect(ofType(bench.journals(), 'start').map(({ how }) => how)).toEqual(['live', 'warm'])
})

test('one that stands still is brought back by the switch, and its run is booked as hung with what was done', async () => {
  const bench = machineBench('test $COUNT != 2 || { touch hangs; exit 1; }')
  expect(await bench.run()).toMatchObject({ outcome: 'finished' })
  const [, hung] = ofType(bench.journals(), 'end')
  expect(hung).toMatchObject({ step: 'r2', outcome: 'hung' })
  expect(hung.message).toMatch(/^the machine under test stood still; it did not answer for 20 s; .* ended with status 0; then it answered again/)
})

test('an error on a machine that goes on answering is the run\'s own', async () => {
  const bench = machineBench('test $COUNT != 2 || exit 7')
  expect(await bench.run()).toMatchObject({ outcome: 'finished' })
  expect(ofType(bench.journals(), 'end').map(({ outcome }) => outcome)).toEqual(['scored', 'errors', 'scored'])
  expect(ofType(bench.journals(), 'open')).toHaveLength(1)
})

test('one that nothing brings back stops the plan with a sentence, and the run is on record', async () => {
  const bench = machineBench('test $COUNT != 2 || { touch hangs broken; exit 1; }')
  const result = await bench.run()
  expect(result).toMatchObject({ outcome: 'machine silent', finished: ['c1', 'r1', 'r2'] })
  expect(result.message).toContain('the machine under test does not answer')
  expect(ofType(bench.journals(), 'end')[1]).toMatchObject({ outcome: 'hung', message: expect.stringContaining('nothing brought it back') })
})

test('a cold start is given by the approved command, with nobody there', async () => {
  const bench = machineBench('true', 'cold')
  expect(await bench.run()).toMatchObject({ outcome: 'finished' })
  expect(ofType(bench.journals(), 'start').map(({ how, result }) => [how, result])).toEqual([['cold', 'started']])
  expect(ofType(bench.journals(), 'open').map(({ bootId }) => bootId)).toEqual(['1', '2'])
})
