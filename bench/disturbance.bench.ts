// What a rig costs the machine under test: its start, its memory, its dependencies, and how much it slows a workload that is scored beside it.
//
// A rig's work during a run comes at intervals (a heartbeat into the journal, its state to a hub over TLS), a few milliseconds each 5 s: far below what wall times on a
// shared machine can resolve. So the rig is made to do it TIMES as often, workload and rig are held on one processor, and the same fixed work is timed with the rig going on
// and with it held still, in pairs, in an order drawn for each. A piece's time is its time on the processor (longer where the rig spoils caches) plus all processor time of
// the rig meanwhile, as if every bit of it were taken from the workload, as on a machine whose cores are all busy; so other programs of this machine don't count. Wall times
// are told beside it. The estimate is of the ratio's logarithm, by signed ranks; cost is work times how often, so a TIMES-th of it, and of its upper limit, is what a rig costs
// at its own pace.
import { fork, spawn, type ChildProcess } from 'node:child_process'
import { once } from 'node:events'
import { mkdirSync, mkdtempSync, readFileSync, readdirSync, rmSync, writeFileSync } from 'node:fs'
import { availableParallelism, tmpdir } from 'node:os'
import { join } from 'node:path'
import { setTimeout } from 'node:timers/promises'
import { decodeJournal, type JournalBody } from '@guardband/model'
import { approvalOf, listCommands, readPlan, addApproval, approvalCode, machineSources } from '@guardband/rig'
import type { Bench } from './bench.ts'
import { pairedEstimate, type PairedEstimate } from './disturbance/upper-limit.ts'
import { median } from './median.ts'

const STARTS = 7
const PAIRS = 80
const TIMES = 20
const SLICE_MS = 300
const SETTLE_MS = 30
const CORE = '0'
const SEED = 20_261_125

const BARS = { startSeconds: 0.5, peakMb: 80, slowdownPercent: 0.1 } as const
const TREE = join(import.meta.dirname, '..')
const HERE = join(import.meta.dirname, 'disturbance')

export const bench: Bench = {
  name: 'disturbance',
  what: `a rig beside a workload: slowdown (upper 95 % limit over ${PAIRS} pairs), start until the first run begins, peak memory, native code`,
  run: async (_args, print) => {
    if (process.platform !== 'linux' || availableParallelism() < 2) throw new Error(`disturbance must be measured on Linux with two processors or more; got ${process.platform} with ${availableParallelism()}`)
    const folder = mkdtempSync(join(tmpdir(), 'guardband-disturbance-'))
    const children: ChildProcess[] = []
    try {
      const place = fork(join(HERE, 'place.ts'), { stdio: ['ignore', 'inherit', 'inherit', 'ipc'] })
      children.push(place)
      const [address] = await once(place, 'message')
      const rig = rigIn(folder, address)

      const starts: number[] = []
      for (let round = 0; round < STARTS; round++) starts.push(await timeStart(rig, `start-${round}`, 'true'))
      const startSeconds = median(starts)
      print(`start until the first run begins: ${startSeconds.toFixed(2)} s (median of ${STARTS}: ${starts.map((each) => each.toFixed(2)).join(', ')})`)

      const beside = rig.start('beside', 'sleep', { before: ['taskset', '-c', CORE], environment: { NODE_OPTIONS: `--import=${join(HERE, 'faster.mjs')}`, BENCH_TIMES: String(TIMES) } })
      children.push(beside)
      await begun(rig, 'beside')
      const native = nativeCode(beside.pid ?? 0)
      print(`native code: ${native.length === 0 ? 'none' : native.join(', ')}`)
      const states = await statesOf(place)
      const from = performance.now()
      const { own: slowdown, wall } = await pairs(beside, children, print)
      const perSecond = ((await statesOf(place)) - states) / ((performance.now() - from) / 1000)
      const peakMb = peakMemory(beside.pid ?? 0)
      const beats = journalOf(rig, 'beside').filter(({ type }) => type === 'heartbeat').length
      print(`peak memory: ${peakMb.toFixed(1)} MB; ${beats} heartbeats and ${perSecond.toFixed(2)} states a second came through`)
      if (beats < PAIRS) throw new Error(`the rig must have gone on with its heartbeats; got ${beats}`)

      const value = percentOf(slowdown.high) / TIMES
      print(`slowdown at ${TIMES} times the pace: ${percentOf(slowdown.middle).toFixed(3)} % (${percentOf(slowdown.low).toFixed(3)} to ${percentOf(slowdown.high).toFixed(3)}); at its own: ${(percentOf(slowdown.middle) / TIMES).toFixed(4)} %, at most ${value.toFixed(4)} %`)
      print(`not judged, by wall times: ${(percentOf(wall.middle) / TIMES).toFixed(4)} %, at most ${(percentOf(wall.high) / TIMES).toFixed(4)} %`)
      return {
        value,
        reference: BARS.slowdownPercent,
        bar: `slowdown under ${BARS.slowdownPercent} % (upper 95 % limit), start under ${BARS.startSeconds} s, under ${BARS.peakMb} MB, no native code`,
        pass: value < BARS.slowdownPercent && startSeconds < BARS.startSeconds && peakMb < BARS.peakMb && native.length === 0,
        detail: { startSeconds, starts, peakMb, native, slowdownPercent: percentOf(slowdown.middle) / TIMES, lowestPercent: percentOf(slowdown.low) / TIMES, wallPercent: percentOf(wall.middle) / TIMES, wallHighestPercent: percentOf(wall.high) / TIMES, atTimes: TIMES, pairs: PAIRS, beats, statesPerSecond: perSecond },
      }
    } finally {
      for (const child of children) child.kill('SIGKILL')
      rmSync(folder, { recursive: true, force: true })
    }
  },
}

interface BenchRig {
  readonly folder: string
  readonly start: (name: string, program: 'true' | 'sleep', by?: { readonly before: readonly string[]; readonly environment: Readonly<Record<string, string>> }) => ChildProcess
}

/** Approved, and let in at that place. */
function rigIn(folder: string, place: unknown): BenchRig {
  const config = join(folder, 'config', 'guardband')
  mkdirSync(config, { recursive: true, mode: 0o700 })
  writeFileSync(join(config, 'places.json'), JSON.stringify({ places: [place] }), { mode: 0o600 })
  const base = { PATH: process.env['PATH'] ?? '', HOME: folder }
  for (const [program, run] of [['true', ['true']], ['sleep', ['sleep', '3600']]] as const) {
    const text = JSON.stringify(planOf(program, run))
    writeFileSync(join(folder, `${program}.json`), text)
    const commands = listCommands(readPlan(text, `${program}.json`), folder, base)
    addApproval(join(config, 'approvals.json'), approvalOf(commands, { at: new Date().toISOString(), plan: program, code: approvalCode(commands) }), machineSources().newId)
  }
  return {
    folder,
    start: (name, program, { before, environment } = { before: [], environment: {} }) => {
      const [first, ...rest] = [...before, process.execPath, join(TREE, 'rig', 'main.ts'), 'run', `${program}.json`, '--folder', name, '--as-root']
      return spawn(first, rest, { cwd: folder, env: { ...base, XDG_CONFIG_HOME: join(folder, 'config'), ...environment }, stdio: ['ignore', 'ignore', 'inherit'] })
    },
  }
}

function planOf(id: string, run: readonly string[]): unknown {
  return {
    schema: 1, id, title: 'What a rig costs', rig: 'north bench',
    assembly: [{ slot: 'processor', part: 'Quillon 14', sample: 'Q14-01' }],
    tunes: [{ name: 'base', apply: { run: ['true'] }, readBack: [{ key: 'level', command: { run: ['echo', '1'] }, reading: { pattern: '(.*)' }, expected: 1 }] }],
    workloads: [{ name: 'tile render', command: { run, timeLimitSeconds: 3600 }, measures: [{ name: 'time', unit: 's', direction: 'lower is better', reading: { elapsed: 'seconds' } }] }],
    design: { tunes: ['base'], workloads: ['tile render'], startsPerTune: 1, repeats: 1 },
  }
}

/** Seconds from the process's beginning to the moment that its first run's record bears. */
async function timeStart(rig: BenchRig, name: string, program: 'true'): Promise<number> {
  const from = Date.now()
  const child = rig.start(name, program)
  const [status] = await once(child, 'exit')
  if (status !== 0) throw new Error(`the rig must finish its plan; it ended with ${String(status)}`)
  const first = journalOf(rig, name).find(({ type }) => type === 'begin')
  if (first === undefined) throw new Error('a run must have begun; got none')
  return (Date.parse(first.at) - from) / 1000
}

async function begun(rig: BenchRig, name: string): Promise<void> {
  for (let tries = 0; tries < 200; tries++) {
    if (journalOf(rig, name).some(({ type }) => type === 'begin')) return
    await setTimeout(50)
  }
  throw new Error('the rig must have begun its run within 10 s')
}

function journalOf(rig: BenchRig, name: string): readonly JournalBody[] {
  const folder = join(rig.folder, name, 'journals')
  try {
    return readdirSync(folder).flatMap((file) => decodeJournal(readFileSync(join(folder, file))).entries.map(({ body }) => body))
  } catch {
    return []
  }
}

/** Logarithms of the time with the rig over the time without it. */
async function pairs(rig: ChildProcess, children: ChildProcess[], print: (line: string) => void): Promise<{ readonly wall: PairedEstimate; readonly own: PairedEstimate }> {
  const worker = spawn('taskset', ['-c', CORE, process.execPath, join(HERE, 'work.ts')], { stdio: ['ignore', 'inherit', 'inherit', 'ipc'] })
  children.push(worker)
  const time = async (rounds: number): Promise<{ readonly wall: number; readonly own: number }> => {
    const before = processorTime(rig.pid ?? 0)
    worker.send(rounds)
    const [{ wall, processor }] = await once(worker, 'message')
    return { wall: Number(wall), own: Number(processor) + processorTime(rig.pid ?? 0) - before }
  }
  await time(WARM_UP)
  const rounds = Math.round((WARM_UP * SLICE_MS) / (await time(WARM_UP)).own)
  const random = drawn(SEED)
  const differences: { readonly wall: number; readonly own: number }[] = []
  for (let pair = 0; pair < PAIRS; pair++) {
    const timed = { with: { wall: 0, own: 0 }, without: { wall: 0, own: 0 } }
    for (const way of random() < 0.5 ? (['with', 'without'] as const) : (['without', 'with'] as const)) {
      rig.kill(way === 'with' ? 'SIGCONT' : 'SIGSTOP')
      await setTimeout(SETTLE_MS)
      timed[way] = await time(rounds)
    }
    differences.push({ wall: Math.log(timed.with.wall / timed.without.wall), own: Math.log(timed.with.own / timed.without.own) })
    if ((pair + 1) % 20 === 0) print(`${pair + 1} pairs`)
  }
  rig.kill('SIGCONT')
  return { wall: pairedEstimate(differences.map(({ wall }) => wall)), own: pairedEstimate(differences.map(({ own }) => own)) }
}

/** Milliseconds of all threads of a process (the kernel's sched-stats, first field). */
function processorTime(pid: number): number {
  return readdirSync(`/proc/${pid}/task`).reduce((sum, task) => sum + Number(readFileSync(`/proc/${pid}/task/${task}/schedstat`, 'utf8').split(' ', 1)[0]) / 1e6, 0)
}

const WARM_UP = 100_000_000

/** mulberry32: enough to draw an order. */
function drawn(seed: number): () => number {
  let state = seed
  return () => {
    state = (state + 0x6d2b79f5) | 0
    let mixed = Math.imul(state ^ (state >>> 15), 1 | state)
    mixed = (mixed + Math.imul(mixed ^ (mixed >>> 7), 61 | mixed)) ^ mixed
    return ((mixed ^ (mixed >>> 14)) >>> 0) / 2 ** 32
  }
}

function percentOf(logarithm: number): number {
  return (Math.exp(logarithm) - 1) * 100
}

/** The most that the process had resident since it became what it is (proc_pid_status(5)). */
function peakMemory(pid: number): number {
  return Number(/^VmHWM:\s+(\d+) kB/m.exec(readFileSync(`/proc/${pid}/status`, 'utf8'))?.[1]) / 1024
}

/** Node's add-ons among what the process has mapped, and libraries out of this tree. */
function nativeCode(pid: number): readonly string[] {
  const mapped = readFileSync(`/proc/${pid}/maps`, 'utf8').split('\n').flatMap((line) => /\s(\/.*)$/.exec(line)?.[1] ?? [])
  return [...new Set(mapped)].filter((path) => path.endsWith('.node') || (path.startsWith(join(TREE, 'node_modules')) && path !== process.execPath))
}

async function statesOf(place: ChildProcess): Promise<number> {
  place.send('states')
  const [states] = await once(place, 'message')
  return Number(states)
}
