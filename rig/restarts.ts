// How often the machine has gone down of late: a rig that nobody watches must not let it restart all night.
import type { JournalFileReading } from './journal-folder.ts'
import { sameBoot } from './boot-id.ts'

/**
 * Restarts that nobody asked for within the last hour, this boot's own included. A file that was closed stands for a rig that had stopped: the restart after it
 * was a person's. An hour is counted by the clock where that went forward, else by what the records of each boot span: a clock set back neither
 * defeats the count nor holds a rig up for ever.
 * @param now milliseconds since 1970
 */
export function restartsWithinHour(journals: readonly JournalFileReading[], { now, bootId }: { readonly now: number; readonly bootId: string }): number {
  const boots = bootsOf(journals)
  if (boots.length === 0) return 0
  const own = boots[boots.length - 1]
  const past = sameBoot(own.bootId, bootId) ? boots : [...boots, { bootId, first: now, last: now, closed: false }]
  let restarts = 0
  /** Milliseconds of work since the boot that is looked at began. */
  let worked = 0
  for (let place = past.length - 1; place >= 1; place--) {
    const boot = past[place]
    worked += Math.max(0, boot.last - boot.first)
    const byClock = now - boot.first
    if (Math.max(worked, byClock) > HOUR_MS) break
    if (!past[place - 1].closed) restarts += 1
  }
  return restarts
}

const HOUR_MS = 3600_000

interface Boot {
  readonly bootId: string
  readonly first: number
  readonly last: number
  /** Its last file ends with `close`. */
  readonly closed: boolean
}

function bootsOf(journals: readonly JournalFileReading[]): readonly Boot[] {
  const boots: Boot[] = []
  for (const { open, entries } of journals) {
    if (open === null) continue
    const times = entries.map(({ body }) => Date.parse(body.at))
    const file = { bootId: open.bootId, first: times[0], last: times[times.length - 1], closed: entries[entries.length - 1].body.type === 'close' }
    const before = boots.at(-1)
    if (before !== undefined && sameBoot(before.bootId, file.bootId)) boots[boots.length - 1] = { ...file, first: before.first }
    else boots.push(file)
  }
  return boots
}
