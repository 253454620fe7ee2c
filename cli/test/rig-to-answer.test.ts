// Real runs on this machine, from a plan to an answer: approve, run, take in, ask.
import { existsSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { setTimeout } from 'node:timers/promises'
import { afterAll, describe, expect, it } from 'vitest'
import { answerSchema } from '@guardband/model'
import { runCli, spawnCli, type CliResult } from './run-cli.ts'

const folder = mkdtempSync(join(tmpdir(), 'guardband-rig-cli-'))
afterAll(() => rmSync(folder, { recursive: true, force: true }))
const place = { folder, env: { HOME: folder, XDG_CONFIG_HOME: '' } }
const cli = (...args: readonly string[]): Promise<CliResult> => runCli(place, ...args)
const shell = (script: string): { readonly run: readonly string[] } => ({ run: ['sh', '-c', script] })

/** The tune writes a number into a file; the workload's score is that number times a hundred, so B stands exactly 50 percent above A. */
const tune = (name: string, value: number) => ({
  name,
  apply: shell(`echo ${value} > setting`),
  readBack: [{ key: 'setting', command: shell('cat setting'), reading: { pattern: '(.*)' }, expected: value }],
})
const plan = {
  schema: 1, id: 'two-settings', title: 'Setting two against three', rig: 'north bench',
  assembly: [{ slot: 'processor', part: 'Quillon 14', sample: 'Q14-1' }],
  tunes: [tune('two', 2), tune('three', 3)],
  workloads: [{
    name: 'photo stack', command: shell('echo "score: $(( $(cat setting) * 100 ))"'),
    measures: [{ name: 'score', unit: 'points', direction: 'higher is better', reading: { pattern: 'score: (\\S+)' } }],
  }],
  design: { tunes: ['two', 'three'], workloads: ['photo stack'], startsPerTune: 2, repeats: 2 },
}

describe('a plan', () => {
  it('runs once approved, and its journals become an answer', { timeout: 120_000 }, async () => {
    writeFileSync(join(folder, 'plan.json'), JSON.stringify(plan))
    expect(await cli('rig', 'run', 'plan.json', '--as-root')).toMatchObject({ code: 1, err: expect.stringContaining('approve') })
    const listed = await cli('rig', 'approve', 'plan.json')
    expect(listed.code).toBe(3)
    const code = /--code ([\w-]+)/.exec(listed.out)?.[1] ?? ''
    expect((await cli('rig', 'approve', 'plan.json', '--code', code)).code).toBe(0)
    const ran = await cli('rig', 'run', 'plan.json', '--as-root')
    expect([ran.code, ran.err]).toEqual([0, ''])
    expect((await cli('rig', 'status', 'plan.json')).out).toContain('0 remaining')

    await cli('new', 'lab', '--name', 'Hollin & Pike')
    const taken = await cli('take', 'rig-two-settings', '--to', 'lab')
    expect([taken.code, taken.out]).toEqual([0, `${join(folder, 'rig-two-settings')}: 8 runs from 4 journals taken in, changes 2 to 5\n`])
    const again = await cli('take', 'rig-two-settings', '--to', 'lab')
    expect([again.code, again.out]).toEqual([0, `${join(folder, 'rig-two-settings')}: nothing new in 4 journals\n`])
    const asked = await cli('ask', '--faster', 'three', '--than', 'two', '--in', 'lab', '--json')
    expect(asked.err).toBe('')
    const answer = answerSchema.parse(JSON.parse(asked.out))
    const overall = answer.estimates.find((estimate) => estimate.key === 'overall' && estimate.scope === 'these samples')
    expect(overall?.computed?.estimate).toBeCloseTo(Math.log(1.5), 12)
    expect((await cli('check', '--in', 'lab')).code).toBe(0)
  })

  it.each(['SIGTERM', 'SIGHUP'] as const)('is stopped by a person when %s arrives twice, from the terminal and from a launcher', { timeout: 60_000 }, async (signal) => {
    const file = `${signal}.json`
    const begun = `${signal}-begun`
    // It takes its time to end, so that the second signal finds the tidy end under way.
    const workload = { ...plan.workloads[0], command: shell(`trap 'sleep 0.5' TERM; touch ${begun}; sleep 30`) }
    writeFileSync(join(folder, file), JSON.stringify({ ...plan, id: signal, workloads: [workload] }))
    const code = /--code ([\w-]+)/.exec((await cli('rig', 'approve', file)).out)?.[1] ?? ''
    await cli('rig', 'approve', file, '--code', code)
    const child = spawnCli(place, 'rig', 'run', file, '--as-root')
    const ended = new Promise<readonly [number | null, string | null]>((resolve) => child.once('exit', (...end) => resolve(end)))
    await expect.poll(() => existsSync(join(folder, begun)), { timeout: 30_000 }).toBe(true)
    child.kill(signal)
    // Two signals that wait together are delivered as one.
    await setTimeout(20)
    child.kill(signal)
    expect(await ended).toEqual([130, null])
    const { out } = await cli('rig', 'status', file)
    expect(out).not.toContain('in flight')
    expect(out).toContain('(8 runs)')
  })
})
