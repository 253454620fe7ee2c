// A rig as its own process, killed at chosen moments over and over, and what its journals say held against what it acknowledged. Without a test framework: a bench uses it too.
import { spawn } from 'node:child_process'
import { existsSync, mkdirSync, readdirSync, readFileSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { NEUTRAL_OUTCOMES, decodeJournal, type JournalBody } from '@guardband/model'
import { createPlanSource, journalFolderOf, readPlan } from '../index.ts'

const MAIN = new URL('../main.ts', import.meta.url).pathname

/** Half of the kills fall into steps on any machine, however busy: after so many lines that the rig said, up to so many ms later. */
const MOST_LINES = 20
const LATEST_IN_STEP = 20
/** Others fall up to so many ms after the rig first spoke, into whatever it does there; every tenth anywhere from the very start of the process. */
const LATEST_KILL = 200
const STEP_SHARE = 0.5
const EARLY_SHARE = 0.1

export interface Killed {
  readonly kills: number
  /** Runs that were closed as cut short. */
  readonly resolved: number
  /** Runs that the rig said were over. */
  readonly acknowledged: number
  /** What was lost, repeated or left out: a sentence each. */
  readonly faults: readonly string[]
  /** Folders of the plans that were carried to their ends. */
  readonly folders: readonly string[]
}

/** Carries plans out, each to its end, until a rig was killed so many times. */
export async function killRigs({ root, kills: wanted, random, progress = () => {} }: { readonly root: string; readonly kills: number; readonly random: () => number; readonly progress?: (kills: number) => void }): Promise<Killed> {
  const faults: string[] = []
  const folders: string[] = []
  let [kills, resolved, acknowledged] = [0, 0, 0]
  for (let round = 0; kills < wanted; round++) {
    const folder = join(root, `round-${round}`)
    const bench = await approvedBench(folder, KILLED_PLAN)
    folders.push(folder)
    const said = new Set<string>()
    let life: Life
    do {
      life = await live(bench, kills < wanted ? killMoment(random) : null)
      if (life.killed) kills += 1
      for (const step of life.finished) said.add(step)
      const ends = new Set(bodiesOf(bench).flatMap((body) => (body.type === 'end' ? [body.step] : [])))
      faults.push(...[...said].filter((step) => !ends.has(step)).map((step) => `${folder}: ${step} was acknowledged, yet has no end`))
    } while (life.killed)
    if (life.code !== 0) faults.push(`${folder}: the last session ended with ${life.code ?? 'a signal'}: ${life.errors}`)
    const whole = checkWhole(bench)
    faults.push(...whole.faults)
    resolved += whole.resolved
    acknowledged += said.size
    progress(kills)
  }
  return { kills, resolved, acknowledged, faults, folders }
}

export type Kill = { readonly from: 'process'; readonly after: number } | { readonly from: 'lines'; readonly lines: number; readonly after: number } | { readonly from: 'state'; readonly holds: () => boolean }

export interface KillBench {
  readonly folder: string
  readonly environment: NodeJS.ProcessEnv
}

interface Life {
  readonly killed: boolean
  readonly code: number | null
  readonly finished: readonly string[]
  readonly errors: string
}

const shell = (script: string): { readonly run: readonly string[] } => ({ run: ['sh', '-c', script] })
const killedTune = (name: string, value: number) => ({ name, apply: shell(`echo ${value} > setting`), readBack: [{ key: 'setting', command: shell('cat setting'), reading: { pattern: '(.*)' }, expected: value }] })

/** Two tunes in many short starts, so that a kill falls as often between runs as into them. */
export const KILLED_PLAN = {
  schema: 1,
  id: 'bench-plan',
  title: 'Narrow against wide',
  rig: 'north bench',
  assembly: [{ slot: 'processor', part: 'Quillon 14', sample: 'Q14-01' }],
  limits: { graceSeconds: 0 },
  tunes: [killedTune('narrow', 1), killedTune('wide', 2)],
  workloads: [{ name: 'photo stack', command: shell('echo "score: $(cat setting)"'), measures: [{ name: 'score', unit: 'points', direction: 'higher is better', reading: { pattern: 'score: (\\S+)' } }] }],
  design: { tunes: ['narrow', 'wide'], workloads: ['photo stack'], startsPerTune: 8, repeats: 6 },
}

export async function approvedBench(folder: string, plan: Readonly<Record<string, unknown>>): Promise<KillBench> {
  mkdirSync(folder, { recursive: true })
  writeFileSync(join(folder, 'plan.json'), JSON.stringify(plan))
  const bench = { folder, environment: { PATH: process.env['PATH'], HOME: folder, XDG_CONFIG_HOME: join(folder, 'config') } }
  const listing = await start(bench, ['approve', 'plan.json'])
  const code = /--code ([0-9a-f-]{19})/.exec(listing.output)?.[1] ?? ''
  const approved = await start(bench, ['approve', 'plan.json', '--code', code])
  if (approved.code !== 0) throw new Error(`the plan must be approved; got ${approved.errors}`)
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

export function start({ folder, environment }: KillBench, args: readonly string[], kill: Kill | null = null) {
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

export function bodiesOf({ folder }: KillBench): readonly JournalBody[] {
  return readJournals(folder).flatMap(({ bodies }) => bodies)
}

function readJournals(folder: string): readonly { readonly path: string; readonly bodies: readonly JournalBody[] }[] {
  const journals = journalFolderOf(join(folder, 'rig'))
  // Killed before it made its folder.
  if (!existsSync(journals)) return []
  return readdirSync(journals).toSorted().map((name) => {
    const path = join(journals, name)
    return { path, bodies: decodeJournal(readFileSync(path)).entries.map(({ body }) => body) }
  })
}

/** Every planned run finished exactly once, begun at least once, and the chain runs whole through all files. */
export function checkWhole({ folder }: KillBench): { readonly resolved: number; readonly faults: readonly string[] } {
  const faults: string[] = []
  const plan = readPlan(readFileSync(join(folder, 'plan.json'), 'utf8'), 'plan.json')
  const planned = createPlanSource(plan).remaining({ finished: new Map() }).filter(({ kind }) => kind === 'run').map(({ id }) => id)
  const journals = readJournals(folder)
  const records = journals.flatMap(({ bodies }) => bodies)
  const ends = records.flatMap((body) => (body.type === 'end' || body.type === 'resolved' ? [body] : []))
  const [finishing, afresh] = [false, true].map((neutral) => ends.filter(({ outcome }) => NEUTRAL_OUTCOMES.has(outcome) === neutral).map(({ step }) => step))
  if (!sameList(finishing, planned)) faults.push(`${folder}: each planned run must be finished once; got ${finishing.length} of ${planned.length}`)
  const begun = records.flatMap((body) => (body.type === 'begin' ? [body.step] : []))
  if (!sameList(begun, [...planned, ...afresh])) faults.push(`${folder}: a finished run must not begin again; got ${begun.length} begun, ${planned.length} planned, ${afresh.length} carried out afresh`)
  let before: { journal: string; lastHash: string } | null = null
  for (const { path } of journals) {
    const { entries, damage } = decodeJournal(readFileSync(path))
    if (damage.length > 0) faults.push(`${path}: must have no damage; got ${damage[0].reason}`)
    const first = entries[0]?.body
    if (first === undefined) continue
    if (first.type !== 'open') throw new Error(`${path} must begin with its opening record; got ${first.type}`)
    if (JSON.stringify(first.previous) !== JSON.stringify(before)) faults.push(`${path}: the chain must go on from ${before?.journal ?? 'nothing'}; got ${first.previous?.journal ?? 'nothing'}`)
    before = { journal: first.journal, lastHash: entries[entries.length - 1].hash }
  }
  return { resolved: records.filter(({ type }) => type === 'resolved').length, faults }
}

function sameList(one: readonly string[], other: readonly string[]): boolean {
  return one.toSorted().join('\n') === other.toSorted().join('\n')
}
