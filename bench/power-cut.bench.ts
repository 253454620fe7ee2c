// A virtual machine that is stopped hard, over and over, in the middle of a plan: its page cache is gone each time, as at a power cut. What it acknowledged must be
// on its disk, nothing finished may run again, and the plan must come to its end.
import { execFileSync, spawn, type ChildProcess } from 'node:child_process'
import { accessSync, constants, mkdirSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { setTimeout } from 'node:timers/promises'
import { bodiesOf, checkWhole } from '@guardband/rig/test/killed-rig'
import { seededNumbers } from '@guardband/rig/test/seeded-numbers'
import type { Bench, BenchResult } from './bench.ts'
import { buildImage, type Image } from './power-cut/image.ts'

const CUTS = 12
const QEMU = 'qemu-system-x86_64'
const SEED = 20_261_101
/** A boot that says nothing for so long has failed. */
const BOOT_MS = 120_000
/** Cuts fall up to so long after the first run of a boot. */
const LATEST_CUT_MS = 2500

export const bench: Bench = {
  name: 'power-cut',
  what: `a virtual machine stopped hard ${CUTS} times in mid-plan (another number by argument): runs lost, repeated or wrongly closed`,
  run: async (args, print) => {
    if (!isThere(QEMU)) return passedOver(print, `${QEMU} is missing: apt-get install qemu-system-x86`)
    const root = mkdtempSync(join(tmpdir(), 'guardband-power-cut-'))
    try {
      print('building the machine: kernel and shell from Debian\'s packages, Node and the rig from here')
      const image = buildImage(root, PLAN)
      const accelerator = await workingAccelerator(image)
      print(accelerator === 'kvm' ? 'the processor runs the guest itself' : 'the processor can not run the guest itself here: it is emulated, and slower')
      return await cutThrough(image, { root, cuts: Number(args[0] ?? CUTS), print, accelerator })
    } finally {
      rmSync(root, { recursive: true, force: true })
    }
  },
}

const shell = (script: string): { readonly run: readonly string[] } => ({ run: ['sh', '-c', script] })
const tune = (name: string, value: number) => ({ name, apply: shell(`echo ${value} > setting`), readBack: [{ key: 'setting', command: shell('cat setting'), reading: { pattern: '(.*)' }, expected: value }] })

const PLAN = {
  schema: 1, id: 'bench-plan', title: 'Narrow against wide', rig: 'north bench', assembly: [{ slot: 'processor', part: 'Quillon 14', sample: 'Q14-01' }],
  limits: { graceSeconds: 0, restartsPerHour: 60, crashesPerTune: 100 },
  tunes: [tune('narrow', 1), tune('wide', 2)],
  workloads: [{ name: 'photo stack', command: shell('sleep 0.2; echo "score: $(cat setting)"'), measures: [{ name: 'score', unit: 'points', direction: 'higher is better', reading: { pattern: 'score: (\\S+)' } }] }],
  design: { tunes: ['narrow', 'wide'], workloads: ['photo stack'], startsPerTune: 10, repeats: 6 },
}

interface Order {
  readonly root: string
  readonly cuts: number
  readonly print: (line: string) => void
  readonly accelerator: Accelerator
}

async function cutThrough(image: Image, { root, cuts: wanted, print, accelerator }: Order): Promise<BenchResult> {
  const random = seededNumbers(SEED, 'cuts')
  const acknowledged = new Set<string>()
  let cuts = 0
  let boots = 0
  let ended: string | null = null
  for (; ended === null && boots < wanted + MOST_BOOTS_MORE; boots++) {
    const cutAfter = cuts < wanted ? random() * LATEST_CUT_MS : null
    const boot = await bootOnce(image, { cutAfter, accelerator })
    for (const step of boot.acknowledged) acknowledged.add(step)
    if (boot.end === 'cut') cuts += 1
    else ended = boot.status
    print(`boot ${boots + 1}: ${boot.acknowledged.length} runs said to be over, ${boot.end === 'cut' ? `cut ${Math.round(cutAfter ?? 0)} ms after its first` : `ended with status ${boot.status ?? 'unknown'}`}`)
    if (boot.end === 'failed') print(boot.output.slice(-2000))
  }
  // The journals as the disk holds them; the file system must be whole too.
  const folder = join(root, 'found')
  mkdirSync(folder)
  execFileSync('e2fsck', ['-fn', image.disk], { stdio: 'pipe' })
  execFileSync('debugfs', ['-R', `rdump /rig ${folder}`, image.disk], { stdio: 'pipe' })
  writeFileSync(join(folder, 'plan.json'), JSON.stringify(PLAN))
  const { faults, resolved } = checkWhole({ folder, environment: {} })
  const bodies = bodiesOf({ folder, environment: {} })
  const ends = new Set(bodies.flatMap((body) => (body.type === 'end' ? [body.step] : [])))
  const lost = [...acknowledged].filter((step) => !ends.has(step))
  const wrong = bodies.flatMap((body) => (body.type === 'resolved' && body.outcome !== 'machine reset' ? [`${body.step}: closed as ${body.outcome}`] : []))
  const all = [...faults, ...lost.map((step) => `${step} was acknowledged, yet is not on the disk`), ...wrong]
  for (const fault of all.slice(0, 20)) print(fault)
  const value = all.length
  return {
    value, reference: 0, ratio: value, bar: `at least 10 cuts in mid-plan; nothing lost, nothing repeated, each run in flight closed as a machine reset, the plan at its end`,
    pass: value === 0 && cuts >= Math.min(10, wanted) && ended === '0', detail: { cuts, boots, runs: ends.size + resolved, acknowledged: acknowledged.size, resolved, accelerator, faults: all.slice(0, 20) },
  }
}

/** A cut before the first run is no cut in mid-plan; some boots more than cuts are allowed for. */
const MOST_BOOTS_MORE = 20

interface BootEnd {
  readonly end: 'cut' | 'ended' | 'failed'
  readonly status: string | null
  readonly acknowledged: readonly string[]
  readonly output: string
}

async function bootOnce({ kernel, archive, disk }: Image, { cutAfter, accelerator }: { readonly cutAfter: number | null; readonly accelerator: Accelerator }): Promise<BootEnd> {
  const machine = spawn(QEMU, [
    ...machineOf(accelerator),
    '-kernel', kernel, '-initrd', archive, '-append', 'console=ttyS0 quiet panic=-1', '-drive', `file=${disk},format=raw,if=virtio,cache=writeback`,
  ], { stdio: ['ignore', 'pipe', 'pipe'] })
  let output = ''
  let cut = false
  const first = new Promise<void>((resolve) => {
    machine.stdout.on('data', (bytes: Buffer) => {
      output += bytes.toString()
      if (RUN_LINE.test(output)) resolve()
    })
  })
  machine.stderr.on('data', (bytes: Buffer) => (output += bytes.toString()))
  const gone = closed(machine)
  const stop = new AbortController()
  const begun = await Promise.race([first.then(() => true), gone.then(() => false), setTimeout(BOOT_MS, false, { signal: stop.signal })])
  stop.abort()
  if (begun && cutAfter !== null) {
    await Promise.race([setTimeout(cutAfter), gone])
    cut = machine.exitCode === null
    machine.kill('SIGKILL')
  } else if (!begun && machine.exitCode === null) machine.kill('SIGKILL')
  await gone
  // The last line may be cut; only whole ones count as said.
  const lines = output.split(/\r?\n/).slice(0, -1)
  const status = lines.flatMap((line) => /^ENDED (\d+)/.exec(line)?.[1] ?? []).at(-1) ?? null
  return { end: cut ? 'cut' : status === null ? 'failed' : 'ended', status, output, acknowledged: lines.flatMap((line) => /^\d+ of \d+ {2}(\S+) {2}photo stack {2}scored/.exec(line)?.[1] ?? []) }
}

const RUN_LINE = /\d+ of \d+ {2}\S+ {2}photo stack {2}scored/

function closed(machine: ChildProcess): Promise<void> {
  return new Promise((resolve) => void machine.once('close', () => resolve()))
}

type Accelerator = 'kvm' | 'tcg'

function machineOf(accelerator: Accelerator): readonly string[] {
  return ['-accel', accelerator, '-cpu', 'max', '-m', '1024', '-smp', '1', '-no-reboot', '-display', 'none', '-monitor', 'none', '-nic', 'none', '-serial', 'stdio']
}

/** Within a machine that is virtual itself, /dev/kvm may be there and yet start nothing: only a guest that speaks proves it. */
async function workingAccelerator({ kernel, archive }: Image): Promise<Accelerator> {
  try {
    accessSync('/dev/kvm', constants.R_OK | constants.W_OK)
  } catch {
    return 'tcg'
  }
  const machine = spawn(QEMU, [...machineOf('kvm'), '-kernel', kernel, '-initrd', archive, '-append', 'console=ttyS0 panic=-1'], { stdio: ['ignore', 'pipe', 'ignore'] })
  const gone = closed(machine)
  const spoke = new Promise<boolean>((resolve) => void machine.stdout.once('data', () => resolve(true)))
  const works = await Promise.race([spoke, gone.then(() => false), setTimeout(SPEAK_MS, false)])
  machine.kill('SIGKILL')
  await gone
  return works ? 'kvm' : 'tcg'
}

/** A guest that is run by the processor itself says its first line within a second. */
const SPEAK_MS = 10_000

function isThere(program: string): boolean {
  try {
    execFileSync(program, ['--version'], { stdio: 'ignore' })
    return true
  } catch {
    return false
  }
}

function passedOver(print: (line: string) => void, why: string): BenchResult {
  print(`passed over: ${why}`)
  return { value: 0, reference: 0, bar: 'not measured', pass: false, detail: { missing: why } }
}
