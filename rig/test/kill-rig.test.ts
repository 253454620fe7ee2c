// Kills a rig at random moments, over and over, and holds what its journals say against what it acknowledged.
import { existsSync, readFileSync } from 'node:fs'
import { join } from 'node:path'
import { expect, test } from 'vitest'
import { planJson, SCORE, shell, temporaryFolder } from './kit.ts'
import { approvedBench, bodiesOf, checkWhole, killRigs, start } from './killed-rig.ts'
import { drawnSeed, seededNumbers } from './seeded-numbers.ts'

/** Ten times as many by `npm run bench -- journal`. */
const KILLS = Number(process.env['GUARDBAND_KILLS'] ?? 100)
const SEED = drawnSeed()

test(`a rig killed at ${KILLS} random moments loses nothing acknowledged, repeats nothing finished, and leaves nothing out (GUARDBAND_SEED=${SEED})`, { timeout: 600_000 }, async () => {
  const { resolved, acknowledged, faults } = await killRigs({ root: temporaryFolder(), kills: KILLS, random: seededNumbers(SEED, 'kills') })
  expect(faults).toEqual([])
  // Kills that never fall into a run, or rigs that never say anything, would make all of the above hold of itself.
  expect(resolved).toBeGreaterThan(KILLS / 20)
  expect(acknowledged).toBeGreaterThan(KILLS / 2)
})

test('a run that outlives its killed rig is ended before anything else runs, says nothing about its tune, and is carried out afresh', async () => {
  const script = 'test -f pid && { echo "score: 1"; exit; }; echo $$ > pid.draft; mv pid.draft pid; exec sleep 60'
  const bench = await approvedBench(join(temporaryFolder(), 'left'), planJson({
    limits: { graceSeconds: 0 },
    workloads: [{ name: 'photo stack', command: shell(script), measures: [SCORE] }],
    design: { tunes: ['narrow', 'wide'], workloads: ['photo stack'], startsPerTune: 1, repeats: 1 },
  }))
  const pidFile = join(bench.folder, 'pid')
  const args = ['run', 'plan.json', '--folder', 'rig', '--as-root', '--each-step']
  // The remark that names the group is written a moment after the group began; before it nothing could be found.
  const isNamed = () => bodiesOf(bench).some((body) => body.type === 'note' && body.text.startsWith('process group '))
  await start(bench, args, { from: 'state', holds: () => existsSync(pidFile) && isNamed() })
  const left = Number(readFileSync(pidFile, 'utf8'))
  expect(isRunning(left)).toBe(true)
  const { code, output, errors } = await start(bench, args)
  expect(code, errors).toBe(0)
  expect(output).toContain('b1.t1.w1.r1 was in flight: it is carried out afresh.')
  expect(isRunning(left)).toBe(false)
  const ends = bodiesOf(bench).flatMap((body) => (body.type === 'end' || body.type === 'resolved' ? [body] : []))
  expect(ends.map(({ step, outcome }) => [step, outcome])).toEqual([['b1.t1.w1.r1', 'stopped by a person'], ['b1.t1.w1.r1', 'scored'], ['b1.t2.w1.r1', 'scored']])
  expect(ends[0]).toMatchObject({ type: 'resolved', evidence: expect.stringContaining('the runner was killed; its run was still alive and was ended.') })
  expect(checkWhole(bench)).toEqual({ resolved: 1, faults: [] })
})

function isRunning(pid: number): boolean {
  try {
    // A process that ended and is not yet collected still has its number.
    return !/^State:\s+Z/m.test(readFileSync(`/proc/${pid}/status`, 'utf8'))
  } catch {
    return false
  }
}

