// A rig as its own process on a scripted machine: boot, clock, disk and what a companion saw come from a file that the test writes.
import { existsSync, readFileSync, rmSync } from 'node:fs'
import { join } from 'node:path'
import { setTimeout } from 'node:timers/promises'
import { createIdFactory } from '@guardband/model'
import { approvalOf, createApprovalCheck, createTerminal, listCommands, nodeDisk, noLink, readPlan, runPlan, type JournalDisk, type Link } from '@guardband/rig'
import { createFileHasher } from '@guardband/rig/file-hash'

export interface MachineState {
  readonly boot: string
  /** Milliseconds that the machine's clock is off. */
  readonly clock: number
  readonly freeBytes: number
  /** What a companion says of the last boot. */
  readonly seen: readonly { readonly at: string; readonly what: string; readonly text: string }[]
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

const link: Link = { ...noLink, seen: async () => machine().seen }

const result = await runPlan({
  plan,
  planFolder: folder,
  rigFolder: join(folder, 'rig'),
  sources: {
    now,
    monotonic: () => performance.now() / 1000,
    newId: createIdFactory({ now: () => Date.now(), fillRandom: (bytes) => void crypto.getRandomValues(bytes) }),
    bootId: machine().boot,
    uptime: () => 1,
    sleep: (milliseconds, signal) => setTimeout(milliseconds, undefined, { signal }),
  },
  disk,
  terminal: { ...createTerminal('steps'), interactive: false },
  attendance: 'unattended',
  link,
  approvals: createApprovalCheck({ store, planFolder: folder, base, hash: createFileHasher() }),
  signal: new AbortController().signal,
  heartbeatSeconds: 0.1,
})
process.stdout.write(`${JSON.stringify({ outcome: result.outcome, message: result.message })}\n`)
