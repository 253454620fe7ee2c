// A rig as its own process on a scripted machine: boot, clock, disk and what a companion saw come from a file that the test writes.
import { existsSync, readFileSync, rmSync } from 'node:fs'
import { join } from 'node:path'
import { setTimeout } from 'node:timers/promises'
import { createIdFactory, planHash } from '@guardband/model'
import { approvalOf, createApprovalCheck, createTerminal, listCommands, nodeDisk, readPlan, runPlan, type JournalDisk } from '@guardband/rig'
import { createFileHasher } from '@guardband/rig/file-hash'
import { createPlaceClient } from '@guardband/rig/sync/place-client'
import type { Place } from '@guardband/rig/sync/places'
import { createRigLink } from '@guardband/rig/sync/rig-link'

export interface MachineState {
  readonly boot: string
  /** Milliseconds that the machine's clock is off. */
  readonly clock: number
  readonly freeBytes: number
}

const [folder] = process.argv.slice(2)
const text = readFileSync(join(folder, 'plan.json'), 'utf8')
const plan = readPlan(text, 'plan.json')
const base = { PATH: process.env['PATH'] ?? '', HOME: folder }
const store = { approvals: [approvalOf(listCommands(plan, folder, base), { at: '2026-11-01T00:00:00Z', plan: plan.id, code: '00000000' })] }

function machine(): MachineState {
  // Written whole by the test, of this shape.
  return JSON.parse(readFileSync(join(folder, 'machine.json'), 'utf8')) as MachineState
}

const now = (): number => Date.now() + machine().clock

/** The real disk, but as full as the machine says, and with a sync that fails once where the test wants it. */
const disk: JournalDisk = {
  ...nodeDisk,
  freeBytes: async () => machine().freeBytes,
  create: async (path) => {
    const file = await nodeDisk.create(path)
    return {
      ...file,
      sync: async () => {
        const wanted = join(folder, 'fail-sync')
        if (existsSync(wanted)) {
          rmSync(wanted)
          throw new Error('input/output error')
        }
        await file.sync()
      },
    }
  },
}

const sources = {
  now,
  monotonic: () => performance.now() / 1000,
  newId: createIdFactory({ now: () => Date.now(), fillRandom: (bytes) => void crypto.getRandomValues(bytes) }),
  bootId: machine().boot,
  uptime: () => 1,
  sleep: (milliseconds: number, signal: AbortSignal) => setTimeout(milliseconds, undefined, { signal }),
}
const say = (line: string): void => void process.stdout.write(`${line}\n`)
// Written by the test, of this shape.
const places = JSON.parse(readFileSync(join(folder, 'places.json'), 'utf8')) as readonly Place[]
const { link } = createRigLink({
  clients: places.map((place) => createPlaceClient(place, sources)), rig: plan.rig, plan: { id: plan.id, title: plan.title, hash: planHash(plan) },
  journalFolder: join(folder, 'rig', 'journals'), keptFolder: join(folder, 'rig', 'kept'), disk: nodeDisk, sources, onStop: () => {}, say,
})

const terminal = createTerminal('steps')

const result = await runPlan({
  plan,
  planFolder: folder,
  rigFolder: join(folder, 'rig'),
  sources,
  disk,
  terminal: {
    ...terminal,
    interactive: false,
    say: (line) => {
      terminal.say(line)
      // The machine goes down just here, before the run is closed on disk: the test pulls the plug meanwhile.
      if (line.includes('was in flight') && existsSync(join(folder, 'hold'))) Atomics.wait(new Int32Array(new SharedArrayBuffer(4)), 0, 0, 60_000)
    },
  },
  attendance: 'unattended',
  link,
  approvals: createApprovalCheck({ store, planFolder: folder, base, hash: createFileHasher() }),
  signal: new AbortController().signal,
  heartbeatSeconds: 0.1,
})
process.stdout.write(`${JSON.stringify({ outcome: result.outcome, message: result.message })}\n`)
