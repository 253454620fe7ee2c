// A night on the scripted machine: nobody there, a supervisor that does to it what a machine can't do to itself, and brings it up again.
import { spawn, type ChildProcess } from 'node:child_process'
import { copyFileSync, existsSync, mkdirSync, readdirSync, readFileSync, renameSync, rmSync, truncateSync, writeFileSync } from 'node:fs'
import { once } from 'node:events'
import { connect, createServer, type Socket } from 'node:net'
import { join } from 'node:path'
import { setTimeout } from 'node:timers/promises'
import { pairRig } from '@guardband/link/pinned-client'
import type { MachineState } from './scripted-rig.ts'

const RIG = new URL('scripted-rig.ts', import.meta.url).pathname
const COMPANION = new URL('companion.ts', import.meta.url).pathname
const MACHINE = new URL('machine.sh', import.meta.url).pathname

export interface Night {
  readonly folder: string
  readonly lives: number
  /** What each session said at its end; null where it was killed. */
  readonly ends: readonly ({ readonly outcome: string; readonly message: string | null } | null)[]
  readonly said: string
  readonly troubles: readonly string[]
}

/** What is staged under each power limit, in its second run unless it says otherwise. */
export const TROUBLES = {
  101: 'the workload hangs',
  102: 'the machine resets in a run',
  103: 'the machine stands still, and a companion switches its power',
  104: 'memory training fails, and the board falls back without a word',
  105: 'the command that puts the tune in force fails',
  106: 'the machine resets while the tune is put in force',
  107: 'the program dies',
  108: 'the workload finds errors',
  109: 'the workload gives no figure',
  110: 'the disk fills up',
  111: 'a sync fails',
  112: 'the machine resets, and its clock is three years back',
  113: 'the machine resets, and the tail of the journal is damaged',
  114: 'the machine resets, and a journal is damaged in its middle',
  115: 'the runner is killed, and its run goes on',
  116: 'the runner and its run are killed',
  117: 'the machine resets, and again while the run is closed',
  118: 'the machine resets in the first run and in the second',
  119: 'the machine resets, and its clock is more than a year ahead',
  120: 'the workload prints without end, and fails',
  121: 'the workload leaves a process behind',
  122: 'the network is gone for some seconds',
  123: 'the companion is killed',
} as const

const TUNES = Object.keys(TROUBLES).map(Number)
export const RUNS_A_TUNE = 3

export function nightPlan(): Readonly<Record<string, unknown>> {
  return {
    schema: 1,
    id: 'troubles',
    title: 'A night of troubles',
    rig: 'north bench',
    assembly: [{ slot: 'processor', part: 'Quillon 14', sample: 'Q14-01' }],
    limits: { graceSeconds: 0, restartsPerHour: 60, crashesPerTune: 2 },
    tunes: TUNES.map((value) => ({
      name: `tune ${value}`,
      settings: [{ key: 'power limit', asked: { shape: 'scalar', value, unit: 'W' } }],
      apply: machine('set', String(value)),
      readBack: [{ key: 'power limit', command: machine('show'), reading: { pattern: '(.*)' }, expected: value, unit: 'W' }],
    })),
    workloads: [{
      name: 'photo stack', command: { ...machine('run'), timeLimitSeconds: 1.5 },
      measures: [{ name: 'score', unit: 'points', direction: 'higher is better', reading: { pattern: 'score: (\\S+)' } }],
    }],
    steps: TUNES.flatMap((value) => [
      { id: `c${value}`, kind: 'change', tune: `tune ${value}`, start: 'live' },
      ...Array.from({ length: RUNS_A_TUNE }, (_, index) => ({ id: `r${value}-${index + 1}`, kind: 'run', workload: 'photo stack' })),
    ]),
  }
}

function machine(...args: readonly string[]): { readonly run: readonly string[]; readonly timeLimitSeconds: number } {
  return { run: ['sh', 'machine.sh', ...args], timeLimitSeconds: 60 }
}

/** Carries the plan out to its end, however often the machine goes down. */
export async function liveThroughTheNight(folder: string): Promise<Night> {
  mkdirSync(folder, { recursive: true })
  copyFileSync(MACHINE, join(folder, 'machine.sh'))
  writeFileSync(join(folder, 'plan.json'), JSON.stringify(nightPlan()))
  const beside = await startBeside(folder)
  const supervisor = createSupervisor(folder, beside)
  const ends: Night['ends'][number][] = []
  let said = ''
  for (let life = 0; life < MOST_LIVES; life++) {
    const { output, killed } = await supervisor.live()
    said += output
    const last = output.trim().split('\n').at(-1) ?? ''
    ends.push(killed || !last.startsWith('{') ? null : (JSON.parse(last) as { outcome: string; message: string | null }))
    const end = ends[ends.length - 1]
    if (end?.outcome === 'finished') {
      beside.close()
      return { folder, lives: ends.length, ends, said, troubles: supervisor.troubles }
    }
    supervisor.comeUp(end?.outcome ?? null)
  }
  throw new Error(`the plan must come to its end within ${MOST_LIVES} sessions; it said:\n${said}`)
}

const MOST_LIVES = 60

/** What stands beside the machine: a companion behind a network that can be cut. The hub that it was let in at is gone all night. */
interface Beside {
  readonly cutNetwork: () => void
  readonly mendNetwork: () => void
  readonly killCompanion: () => void
  readonly close: () => void
}

async function startBeside(folder: string): Promise<Beside> {
  const companion = spawn(process.execPath, [COMPANION, folder], { stdio: ['pipe', 'pipe', 'inherit'] })
  let output = ''
  companion.stdout.on('data', (bytes: Buffer) => (output += bytes.toString()))
  while (!/--code (\S+)/.test(output) || !/Type "code"/.test(output)) await setTimeout(10)
  const [, url] = /listens on (https:\S+)/.exec(output) ?? []
  const [, code] = /--code (\S+)/.exec(output) ?? []
  const [, fingerprint] = /--fingerprint "(\w+)"/.exec(output) ?? []
  const token = await pairRig({ url, fingerprint, code, name: 'north bench' })

  const open = new Set<Socket>()
  let cut = false
  const network = createServer((near) => {
    if (cut) return void near.destroy()
    const far = connect(Number(new URL(url).port), '127.0.0.1')
    for (const [one, other] of [[near, far], [far, near]]) {
      open.add(one)
      one.on('error', () => other.destroy())
      one.on('close', () => {
        open.delete(one)
        other.destroy()
      })
      one.pipe(other)
    }
  })
  network.listen(0, '127.0.0.1')
  await once(network, 'listening')
  const address = network.address()
  const port = address === null || typeof address === 'string' ? 0 : address.port
  const gone = { origin: 'https://127.0.0.1:9', fingerprint: 'ab'.repeat(32), token: 'rig-gone', name: 'hub that is gone' }
  writeFileSync(join(folder, 'places.json'), JSON.stringify([gone, { origin: `https://127.0.0.1:${port}`, fingerprint, token, name: 'companion' }]))
  return {
    cutNetwork: () => {
      cut = true
      for (const socket of open) socket.destroy()
    },
    mendNetwork: () => {
      cut = false
    },
    killCompanion: () => void companion.kill('SIGKILL'),
    close: () => {
      companion.kill('SIGKILL')
      network.close()
      for (const socket of open) socket.destroy()
    },
  }
}

interface Supervisor {
  readonly troubles: readonly string[]
  /** One session: until it ends by itself or is killed by a trouble. */
  readonly live: () => Promise<{ readonly output: string; readonly killed: boolean }>
  /** What stands between two sessions: the machine is brought up, or a person made room. */
  readonly comeUp: (outcome: string | null) => void
}

function createSupervisor(folder: string, beside: Beside): Supervisor {
  let state: MachineState = { boot: 'boot-1', clock: 0, freeBytes: 1e12 }
  let boots = 1
  const troubles: string[] = []
  const write = (more: Partial<MachineState>): void => {
    state = { ...state, ...more }
    writeFileSync(join(folder, 'machine.draft'), JSON.stringify(state))
    renameSync(join(folder, 'machine.draft'), join(folder, 'machine.json'))
  }
  /** Another boot: the board starts at its defaults. */
  const restart = (more: Partial<MachineState> = {}): void => {
    boots += 1
    rmSync(join(folder, 'in-force'), { force: true })
    write({ boot: `boot-${boots}`, ...more })
  }
  write({})
  const act = async (wish: string, rig: ChildProcess): Promise<'killed' | 'goes on'> => {
    troubles.push(wish)
    switch (wish) {
      case '110': {
        // The disk fills up while a run is under way: that run ends well, the next does not begin.
        write({ freeBytes: 1000 })
        endRun(folder)
        return 'goes on'
      }
      case '111': {
        writeFileSync(join(folder, 'fail-sync'), '')
        endRun(folder)
        return 'goes on'
      }
      case '103': {
        // All of it stands still until somebody uses the switch.
        stopAll(rig)
        while (!existsSync(join(folder, 'switch'))) await setTimeout(50)
        await pullThePlug(rig)
        return 'killed'
      }
      case '122':
        beside.cutNetwork()
        endRun(folder)
        void setTimeout(3000).then(beside.mendNetwork)
        return 'goes on'
      case '123':
        beside.killCompanion()
        endRun(folder)
        return 'goes on'
      case '115':
        // The runner alone: what it ran goes on.
        rig.kill('SIGKILL')
        return 'killed'
      default:
        await pullThePlug(rig)
        return 'killed'
    }
  }
  const afterwards = (wish: string): void => {
    const journals = join(folder, 'rig', 'journals')
    const files = readdirSync(journals).toSorted()
    const last = join(journals, files[files.length - 1])
    switch (wish) {
      case 'reset': case '102':
        return restart()
      case '103':
        return restart()
      case '112':
        return restart({ clock: -3 * 365 * 24 * 3600 * 1000 })
      case '113':
        truncateSync(last, readFileSync(last).length - 7)
        return restart({ clock: 0 })
      case '114': {
        const middle = join(journals, files[Math.floor(files.length / 2)])
        const bytes = readFileSync(middle)
        // In the middle of a line in the middle of a file: its second heartbeat or end, whichever it is.
        bytes.write('#####', bytes.lastIndexOf(0x0a, bytes.length - 2) - 40)
        writeFileSync(middle, bytes)
        return restart()
      }
      case '117':
        cutWhileClosing = true
        writeFileSync(join(folder, 'hold'), '')
        return restart()
      case '118':
        return restart()
      case '119':
        return restart({ clock: 400 * 24 * 3600 * 1000 })
      default:
    }
  }
  let lastWish: string | null = null
  let cutWhileClosing = false
  return {
    troubles,
    live: async () => {
      const rig = spawn(process.execPath, [RIG, folder], { stdio: ['ignore', 'pipe', 'pipe'] })
      let output = ''
      rig.stdout.on('data', (bytes: Buffer) => (output += bytes.toString()))
      rig.stderr.on('data', (bytes: Buffer) => (output += bytes.toString()))
      const ended = new Promise<number | null>((resolve) => void rig.once('close', resolve))
      let over = false
      void ended.then(() => (over = true))
      lastWish = null
      const wishFile = join(folder, 'wish')
      while (!over) {
        if (cutWhileClosing && output.includes('was in flight')) {
          cutWhileClosing = false
          lastWish = 'reset'
          await pullThePlug(rig)
          rmSync(join(folder, 'hold'))
          await ended
          return { output, killed: true }
        }
        if (existsSync(wishFile)) {
          const wish = readFileSync(wishFile, 'utf8').trim()
          rmSync(wishFile)
          lastWish = wish
          if ((await act(wish, rig)) === 'killed') {
            await ended
            return { output, killed: true }
          }
        }
        await setTimeout(5)
      }
      await ended
      return { output, killed: false }
    },
    comeUp: (outcome) => {
      if (outcome === 'disk full') write({ freeBytes: 1e12 })
      else if (lastWish !== null) afterwards(lastWish)
    },
  }
}

/** The run under way ends at once, with its figure: its sleep is cut short. */
function endRun(folder: string): void {
  writeFileSync(join(folder, 'go-on'), '')
}

function stopAll(rig: ChildProcess): void {
  for (const { pid, group } of childrenOf(rig)) if (pid !== undefined) process.kill(-group, 'SIGSTOP')
  rig.kill('SIGSTOP')
}

/** The rig stands still while its run is ended, so that it can't note how that went. */
async function pullThePlug(rig: ChildProcess): Promise<void> {
  const { pid } = rig
  if (pid === undefined) throw new Error('the rig has a process')
  process.kill(pid, 'SIGSTOP')
  for (const { group } of childrenOf(rig)) {
    try {
      process.kill(-group, 'SIGKILL')
    } catch {
      // It ended meanwhile.
    }
  }
  rig.kill('SIGKILL')
}

function childrenOf({ pid }: ChildProcess): readonly { readonly pid: number; readonly group: number }[] {
  return readdirSync('/proc').filter((entry) => /^\d+$/.test(entry)).flatMap((name) => {
    try {
      const stat = readFileSync(`/proc/${name}/stat`, 'utf8')
      const [, parent, group] = stat.slice(stat.lastIndexOf(')') + 2).split(' ').map(Number)
      return parent === pid ? [{ pid: Number(name), group }] : []
    } catch {
      // It ended meanwhile.
      return []
    }
  })
}
