// A companion as its own process, with a shorter patience than a watch file may have, so that a test need not wait. Prints where it listens and one code.
import { join } from 'node:path'
import { createInterface } from 'node:readline'
import { setTimeout } from 'node:timers/promises'
import { createIdFactory } from '@guardband/model'
import { approvalOf, createApprovalCheck, nodeDisk } from '@guardband/rig'
import { listUses } from '@guardband/rig/approvals'
import { watchUses } from '@guardband/rig/companion/read-watch'
import { runCompanion } from '@guardband/rig/companion/run-companion'
import { createFileHasher } from '@guardband/rig/file-hash'

const [folder] = process.argv.slice(2)
const watch = {
  schema: 1 as const, id: 'watch', rig: 'north bench', silenceSeconds: 7, mostPerHour: 6,
  actions: [{ name: 'power switch', command: { run: ['sh', '-c', ': > switch'], timeLimitSeconds: 10 }, waitSeconds: 30 }],
}
const base = { PATH: process.env['PATH'] ?? '', HOME: folder }
const store = { approvals: [approvalOf(listUses(watchUses(watch), folder, base), { at: '2026-11-01T00:00:00Z', plan: 'watch', code: '00000000' })] }
const now = (): number => Date.now()
await runCompanion({
  watch, folder: join(folder, 'companion'), keysFolder: join(folder, 'companion-keys'), address: '127.0.0.1', port: 0, disk: nodeDisk, signal: new AbortController().signal, who: 'Ada Hollin',
  sources: { now, monotonic: () => performance.now() / 1000, newId: createIdFactory({ now, fillRandom: (bytes) => void crypto.getRandomValues(bytes) }), bootId: 'companion', uptime: () => 1, sleep: (milliseconds, signal) => setTimeout(milliseconds, undefined, { signal }) },
  approvals: createApprovalCheck({ store, planFolder: folder, base, hash: createFileHasher() }),
  say: (line) => void process.stdout.write(`${line}\n`),
  lines: createInterface({ input: process.stdin }),
})
