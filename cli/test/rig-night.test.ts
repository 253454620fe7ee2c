// The guide to a night with the rig, followed by its own commands with its own programs and a shorter plan: two crashes, one fallback, and an answer.
import { spawn } from 'node:child_process'
import { once } from 'node:events'
import { cpSync, mkdirSync, mkdtempSync, readFileSync, readdirSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, expect, it } from 'vitest'
import { answerSchema, decodeJournal, planSchema, type JournalBody } from '@guardband/model'
import { runCli, spawnCli, type CliResult } from './run-cli.ts'

const GUIDE = join(import.meta.dirname, '..', '..', 'docs', 'guide')
const folder = mkdtempSync(join(tmpdir(), 'guardband-night-'))
afterAll(() => rmSync(folder, { recursive: true, force: true }))
const place = { folder, env: { HOME: folder, XDG_CONFIG_HOME: join(folder, 'config') } }
const cli = (...args: readonly string[]): Promise<CliResult> => runCli(place, ...args)

/** The lines that the guide has its reader type, in order. */
const TYPED = [...readFileSync(join(GUIDE, 'rig.md'), 'utf8').matchAll(/^```sh\n(.*?)^```/gms)].flatMap(([, block]) => block.trim().split('\n'))
const RUN = 'npx guardband rig run my-night/plan.json'
const PLUG = 'node my-night/pull-the-plug.mjs'
const TUNES = ['one worker, level 6', 'two workers, level 6', 'two workers, level 12']

it('is what the guide says: the plan goes on through two crashes, the fallback runs nothing, and the runs answer', { timeout: 300_000 }, async () => {
  expect(TYPED.filter((line) => line === RUN)).toHaveLength(3)
  expect(TYPED.filter((line) => line === PLUG)).toHaveLength(2)
  const plan = planSchema.parse(JSON.parse(readFileSync(join(GUIDE, 'rig-night', 'plan.json'), 'utf8')))
  expect(plan.design).toMatchObject({ tunes: { length: 8 }, workloads: { length: 3 }, startsPerTune: 3, repeats: 2 })
  cpSync(join(GUIDE, 'rig-night'), join(folder, 'my-night'), { recursive: true })
  mkdirSync(join(folder, 'config'))
  writeFileSync(join(folder, 'my-night', 'plan.json'), JSON.stringify({ ...plan, limits: { graceSeconds: 1 }, design: { ...plan.design, tunes: TUNES, startsPerTune: 2, repeats: 1 } }))

  expect((await cli('new', 'my-lab', '--name', 'My lab')).code).toBe(0)
  const code = /--code (\S+)/.exec((await cli('rig', 'approve', 'my-night/plan.json')).out)?.[1] ?? ''
  expect((await cli('rig', 'approve', 'my-night/plan.json', '--code', code)).code).toBe(0)
  const run = ['rig', 'run', 'my-night/plan.json', '--each-step', ...(process.getuid?.() === 0 ? ['--as-root'] : [])]
  for (const crash of [1, 2]) {
    const child = spawnCli(place, ...run)
    let output = ''
    child.stdout.on('data', (bytes: Buffer) => (output += bytes.toString()))
    const closed = once(child, 'close')
    // Two runs further each time, then in the middle of the next.
    while ((output.match(/ scored /g) ?? []).length < 2) await new Promise((resolve) => setTimeout(resolve, 20))
    await new Promise((resolve) => setTimeout(resolve, 150))
    const plug = spawn(process.execPath, [join(folder, 'my-night', 'pull-the-plug.mjs')], { cwd: folder })
    expect((await once(plug, 'exit'))[0], `crash ${crash}`).toBe(0)
    await closed
  }
  const last = await cli(...run)
  expect(last.code, last.err).toBe(0)
  expect(last.out).toContain('was in flight')
  expect((await cli('rig', 'status', 'my-night/plan.json')).out).toContain('0 remaining')

  const journals = join(folder, 'my-night', 'rig-night-1', 'journals')
  const bodies: readonly JournalBody[] = readdirSync(journals).toSorted().flatMap((name) => decodeJournal(readFileSync(join(journals, name))).entries.map(({ body }) => body))
  const ends = bodies.flatMap((body) => (body.type === 'end' || body.type === 'resolved' ? [body.outcome] : []))
  expect(ends.filter((outcome) => outcome === 'scored').length + ends.filter((outcome) => outcome === 'program died').length).toBe(2 * 2 * 3)
  // Two tunes in two starts run; the third falls back in both.
  expect(bodies.filter((body) => body.type === 'done' && body.message?.startsWith('not run') === true)).toHaveLength(2 * 3)
  expect(bodies.some((body) => body.type === 'start' && body.tune === 'two workers, level 12' && body.result === 'started')).toBe(false)

  expect((await cli('take', 'my-night/rig-night-1', '--to', 'my-lab')).code).toBe(0)
  const asked = await cli('ask', '--faster', 'two workers, level 6', '--than', 'one worker, level 6', '--in', 'my-lab', '--json')
  expect(asked.err).toBe('')
  expect(answerSchema.parse(JSON.parse(asked.out))).toMatchObject({ status: 'computed', sides: ['one worker, level 6', 'two workers, level 6'] })
  expect((await cli('check', '--in', 'my-lab')).code).toBe(0)
})
