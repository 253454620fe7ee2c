// Kills a rig at random moments, over and over, and holds what its journals say against what it acknowledged.
import { spawn } from 'node:child_process'
import { existsSync, mkdirSync, readFileSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { NEUTRAL_OUTCOMES, decodeJournal } from '@guardband/model'
import { expect, test } from 'vitest'
import { readPlan, createPlanSource } from '../index.ts'
import { SCORE, planJson, readJournals, shell, temporaryFolder } from './kit.ts'
import { drawnSeed, seededNumbers } from './seeded-numbers.ts'

const KILLS = Number(process.env['GUARDBAND_KILLS'] ?? 100)
const SEED = drawnSeed()
const MAIN = new URL('../main.ts', import.meta.url).pathname

/** Half of the kills fall into steps on any machine, however busy: after so many lines that the rig said, up to so many ms later. */
const MOST_LINES = 20
const LATEST_IN_STEP = 20
/** Others fall up to so many ms after the rig first spoke, into whatever it does there; every tenth anywhere from the very start of the process. */
const LATEST_KILL = 200
const STEP_SHARE = 0.5
const EARLY_SHARE = 0.1

test(`a rig killed at ${KILLS} random moments loses nothing acknowledged, repeats nothing finished, and leaves nothing out (GUARDBAND_SEED=${SEED})`, { timeout: 600_000 }, async () => {
  const root = temporaryFolder()
  const random = seededNumbers(SEED, 'kills')
  let kills = 0
  let resolved = 0
  let acknowledged = 0
  for (let round = 0; kills < KILLS; round++) {
    const folder = join(root, `round-${round}`)
    const bench = await approvedBench(folder)
    const said = new Set<string>()
    let life: Life
    do {
      life = await live(bench, kills < KILLS ? killMoment(random) : null)
      if (life.killed) kills += 1
      for (const step of life.finished) said.add(step)
      const ends = new Set(bodies(bench).flatMap((body) => (body.type === 'end' ? [body.step] : [])))
      expect([...said].filter((step) => !ends.has(step)), 'acknowledged, yet without an end').toEqual([])
    } while (life.killed)
    expect(life.code, life.errors).toBe(0)
    resolved += checkWhole(bench)
    acknowledged += said.size
  }
  // Kills that never fall into a run, or rigs that never say anything, would make all of the above hold of itself.
  expect(resolved).toBeGreaterThan(KILLS / 20)
  expect(acknowledged).toBeGreaterThan(KILLS / 2)
})

test('a run that outlives its killed rig is ended before anything else runs, says nothing about its tune, and is carried out afresh', async () => {
  const script = 'test -f pid && { echo "score: 1"; exit; }; echo $$ > pid.draft; mv pid.draft pid; exec sleep 60'
  const bench = await approvedBench(join(temporaryFolder(), 'left'), {
    workloads: [{ name: 'photo stack', command: shell(script), measures: [SCORE] }],
    design: { ...DESIGN, startsPerTune: 1, repeats: 1 },
  })
  const pidFile = join(bench.folder, 'pid')
  const args = ['run', 'plan.json', '--folder', 'rig', '--as-root', '--each-step']
  // The remark that names the group is written a moment after the group began; before it nothing could be found.
  const isNamed = () => bodies(bench).some((body) => body.type === 'note' && body.text.startsWith('process group '))
  await start(bench, args, { from: 'state', holds: () => existsSync(pidFile) && isNamed() })
  const left = Number(readFileSync(pidFile, 'utf8'))
  expect(isRunning(left)).toBe(true)
  const { code, output, errors } = await start(bench, args)
  expect(code, errors).toBe(0)
  expect(output).toContain('b1.t1.w1.r1 was in flight: it is carried out afresh.')
  expect(isRunning(left)).toBe(false)
  const ends = bodies(bench).flatMap((body) => (body.type === 'end' || body.type === 'resolved' ? [body] : []))
  expect(ends.map(({ step, outcome }) => [step, outcome])).toEqual([['b1.t1.w1.r1', 'stopped by a person'], ['b1.t1.w1.r1', 'scored'], ['b1.t2.w1.r1', 'scored']])
  expect(ends[0]).toMatchObject({ type: 'resolved', evidence: expect.stringContaining('the runner was killed; its run was still alive and was ended.') })
  expect(checkWhole(bench)).toBe(1)
})

type Kill = { readonly from: 'process'; readonly after: number } | { readonly from: 'lines'; readonly lines: number; readonly after: number } | { readonly from: 'state'; readonly holds: () => boolean }

interface KillBench {
  readonly folder: string
  readonly environment: NodeJS.ProcessEnv
}

interface Life {
  readonly killed: boolean
  readonly code: number | null
  readonly finished: readonly string[]
  readonly errors: string
}

const DESIGN = { tunes: ['narrow', 'wide'], workloads: ['photo stack'], startsPerTune: 8, repeats: 6 }

async function approvedBench(folder: string, more: Readonly<Record<string, unknown>> = { design: DESIGN }): Promise<KillBench> {
  mkdirSync(folder)
  writeFileSync(join(folder, 'plan.json'), JSON.stringify(planJson({ limits: { graceSeconds: 0 }, ...more })))
  const bench = { folder, environment: { PATH: process.env['PATH'], HOME: folder, XDG_CONFIG_HOME: join(folder, 'config') } }
  const listing = await start(bench, ['approve', 'plan.json'])
  const code = /--code ([0-9a-f-]{19})/.exec(listing.output)?.[1] ?? ''
  const approved = await start(bench, ['approve', 'plan.json', '--code', code])
  expect(approved.code, approved.errors).toBe(0)
  return bench
}

function killMoment(random: () => number): Kill {
  const kind = random()
  if (kind < EARLY_SHARE) return { from: 'process', after: random() * 2 * LATEST_KILL }
  if (kind < EARLY_SHARE + STEP_SHARE) return { from: 'lines', lines: 1 + Math.floor(random() * MOST_LINES), after: random() * LATEST_IN_STEP }
  return { from: 'lines', lines: 1, after: random() * LATEST_KILL }
}

async function live(bench: KillBench, kill: Kill | null): Promise<Life> {
  const { output, code, signal, errors } = await start(bench, ['run', 'plan.json', '--folder', 'rig', '--as-root', '--each-step'], kill)
  // The last line may be cut by the kill; only whole lines count as said.
  const lines = output.split('\n').slice(0, -1)
  return { killed: signal === 'SIGKILL', code, errors, finished: lines.flatMap((line) => /^\d+ of \d+ {2}(\S+) {2}photo stack {2}scored/.exec(line)?.[1] ?? []) }
}

function start({ folder, environment }: KillBench, args: readonly string[], kill: Kill | null = null) {
  return new Promise<{ output: string; errors: string; code: number | null; signal: string | null }>((resolve) => {
    const child = spawn(process.execPath, [MAIN, ...args], { cwd: folder, env: environment, stdio: ['ignore', 'pipe', 'pipe'] })
    let output = ''
    let errors = ''
    let struck = false
    const strike = (after: number) => setTimeout(() => child.kill('SIGKILL'), after)
    if (kill?.from === 'process') strike(kill.after)
    const watch = kill?.from === 'state' ? setInterval(() => kill.holds() && child.kill('SIGKILL'), 10) : undefined
    child.stdout.on('data', (chunk: Buffer) => {
      output += chunk.toString()
      if (kill?.from === 'lines' && !struck && output.split('\n').length > kill.lines) {
        struck = true
        strike(kill.after)
      }
    })
    child.stderr.on('data', (chunk: Buffer) => (errors += chunk.toString()))
    child.on('close', (code, signal) => {
      clearInterval(watch)
      resolve({ output, errors, code, signal })
    })
  })
}

function bodies({ folder }: KillBench) {
  try {
    return readJournals(join(folder, 'rig')).flatMap(({ bodies }) => bodies)
  } catch {
    // Killed before it made its folder.
    return []
  }
}

function isRunning(pid: number): boolean {
  try {
    // A process that ended and is not yet collected still has its number.
    return !/^State:\s+Z/m.test(readFileSync(`/proc/${pid}/status`, 'utf8'))
  } catch {
    return false
  }
}

/** Every planned run finished exactly once, begun at least once, and the chain runs whole through all files. Resolves to how many were resolved. */
function checkWhole({ folder }: KillBench): number {
  const plan = readPlan(readFileSync(join(folder, 'plan.json'), 'utf8'), 'plan.json')
  const planned = createPlanSource(plan).remaining({ finished: new Map() }).filter(({ kind }) => kind === 'run').map(({ id }) => id)
  const journals = readJournals(join(folder, 'rig'))
  const records = journals.flatMap(({ bodies }) => bodies)
  const ends = records.flatMap((body) => (body.type === 'end' || body.type === 'resolved' ? [body] : []))
  const [finishing, afresh] = [false, true].map((neutral) => ends.filter(({ outcome }) => NEUTRAL_OUTCOMES.has(outcome) === neutral).map(({ step }) => step))
  expect(finishing.toSorted()).toEqual(planned.toSorted())
  const begun = records.flatMap((body) => (body.type === 'begin' ? [body.step] : []))
  expect(begun.toSorted(), 'no finished run begins again').toEqual([...planned, ...afresh].toSorted())

  let before: { journal: string; lastHash: string } | null = null
  for (const { path, damage } of journals) {
    const { entries } = decodeJournal(readFileSync(path))
    expect(damage).toBe(0)
    const first = entries[0]?.body
    if (first === undefined) continue
    if (first.type !== 'open') throw new Error(`${path} must begin with its opening record; got ${first.type}`)
    expect(first.previous).toEqual(before)
    before = { journal: first.journal, lastHash: entries[entries.length - 1].hash }
  }
  return records.filter(({ type }) => type === 'resolved').length
}
