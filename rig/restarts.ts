// How often the machine has gone down of late: a rig that nobody watches must not let it restart all night.
import type { JournalEntry } from '@guardband/model'
import type { JournalFileReading } from './journal-folder.ts'
import { sameBoot } from './boot-id.ts'

/** Why a journal closes when the machine under test went down and this program did not. */
export const WENT_DOWN = { stoodStill: 'the machine under test stood still', restarted: 'the machine under test restarted' } as const

/**
 * Restarts that nobody asked for within the last hour, this boot's own included. A file that was closed stands for a rig that had stopped: the restart after it
 * was a person's, unless it was closed since the machine beside this one went down. The hour is made up of the steps of the clock from record to record, without those
 * that it can't have gone: back, further than anything lasts without a record within a boot, or further than a machine stays off between two. What a clock was
 * set right by in a boot counts for the record that this boot began with. So a clock that is set neither defeats the count nor holds a rig up for ever.
 * @param now milliseconds since 1970
 */
export function restartsWithinHour(journals: readonly JournalFileReading[], { now, bootId }: { readonly now: number; readonly bootId: string }): number {
  const boots = bootsOf(journals)
  const last = boots.at(-1)
  if (last === undefined) return 0
  if (sameBoot(last.bootId, bootId)) last.worked += stepWithin(last, now)
  else boots.push({ bootId, first: now, last: now, worked: 0, set: 0, wentDown: true })
  let restarts = 0
  let passed = 0
  for (let place = boots.length - 1; place >= 1; place--) {
    const boot = boots[place]
    const before = boots[place - 1]
    passed += boot.worked
    if (passed > HOUR_MS) break
    if (before.wentDown) restarts += 1
    // A boot just begun may have its clock set right yet, as the one before it had.
    const set = place === boots.length - 1 && boot.set === 0 ? Math.min(0, before.set) : boot.set
    const off = boot.first + set - before.last
    passed += off > 0 && off < LONGEST_OFF_MS ? off : 0
  }
  return restarts
}

const HOUR_MS = 3600_000

/** A run has its heartbeats; a command that puts a tune in force or brings a machine up may be as long as this without a record. */
const LONGEST_SILENCE_MS = 1200_000

/** A rig that lay for longer is taken up by a person. A firmware's first date, or a year more, is further than that. */
const LONGEST_OFF_MS = 60 * 24 * HOUR_MS

interface Boot {
  readonly bootId: string
  readonly first: number
  last: number
  /** Milliseconds from its first record to its last, without what the clock was set by. */
  worked: number
  /** Milliseconds that the clock was set by meanwhile. */
  set: number
  /** Nothing closed its last file, or it closed since the machine went down. */
  wentDown: boolean
}

function bootsOf(journals: readonly JournalFileReading[]): Boot[] {
  const boots: Boot[] = []
  for (const { open, entries } of journals) {
    if (open === null) continue
    const first = Date.parse(open.at)
    const before = boots.at(-1)
    const boot: Boot = before !== undefined && sameBoot(before.bootId, open.bootId) ? before : { bootId: open.bootId, first, last: first, worked: 0, set: 0, wentDown: true }
    if (boot !== before) boots.push(boot)
    for (const { body } of entries) {
      const at = Date.parse(body.at)
      // People take their own time.
      const step = body.type === 'answer' ? Math.max(0, at - boot.last) : stepWithin(boot, at)
      boot.worked += step
      boot.set += at - boot.last - step
      boot.last = at
    }
    boot.wentDown = hasGoneDown(entries)
  }
  return boots
}

function stepWithin({ last }: Boot, at: number): number {
  const step = at - last
  return step > 0 && step <= LONGEST_SILENCE_MS ? step : 0
}

function hasGoneDown(entries: readonly JournalEntry[]): boolean {
  const body = entries.at(-1)?.body
  return body?.type !== 'close' || body.reason === WENT_DOWN.stoodStill || body.reason === WENT_DOWN.restarted
}
