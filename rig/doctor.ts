// What a machine can and can't report, and what stands in a plan's way on it: findings in words, each with what it means for a night of runs.
import { existsSync } from 'node:fs'
import { open, rm } from 'node:fs/promises'
import { dirname, join } from 'node:path'
import { SpokenError, counted, fixed, type Plan, type PlanCeiling } from '@guardband/model'
import type { ApprovalCheck } from './approval-store.ts'
import { planUses } from './approvals.ts'
import type { CeilingCheck } from './ceilings.ts'
import type { CapturedCondition } from './conditions-linux.ts'
import type { JournalDisk } from './journal-disk.ts'

export interface Finding {
  readonly about: string
  /** well; lack: something can't be told, and a plan runs all the same; fault: a plan would stop. */
  readonly is: 'well' | 'lack' | 'fault'
  readonly text: string
}

export function conditionFindings(captured: readonly CapturedCondition[]): readonly Finding[] {
  return captured.map(({ label, state, value, note }) => {
    if (value !== null) return { about: label, is: note === undefined ? 'well' : 'lack', text: note === undefined ? value : `${value} (${note})` }
    return { about: label, is: 'lack', text: state === 'rights' ? (note ?? 'needs more rights than this user has') : 'not there; write it into the plan\'s conditions' }
  })
}

export function bootFinding(bootId: string): Finding {
  return bootId.startsWith('booted-minute-')
    ? { about: 'boot', is: 'lack', text: 'reckoned from clock and uptime: a clock set anew by some minutes looks like a restart' }
    : { about: 'boot', is: 'well', text: 'named by the kernel: a restart is told from a program that died' }
}

/** A clock that stands before this program was written has lost its time. */
export function clockFinding(now: number): Finding {
  const shown = new Date(now).toISOString()
  return now < BEGINNING ? { about: 'clock', is: 'lack', text: `${shown}: it has lost its time; the order of runs doesn't hang on it, the times do` } : { about: 'clock', is: 'well', text: shown }
}

const BEGINNING = Date.UTC(2026, 0, 1)

/** Writes and syncs a small file a few times where the journals go, and takes it away again. */
export async function diskFindings(folder: string, disk: JournalDisk, monotonic: () => number): Promise<readonly Finding[]> {
  const nearest = existing(folder)
  const free = await disk.freeBytes(nearest)
  const space: Finding = { about: 'space', is: free < LITTLE ? 'fault' : 'well', text: `${fixed(free / 1e9, 1)} GB free for ${folder}${free < LITTLE ? '; a plan stops when it is full' : ''}` }
  try {
    return [space, await syncFinding(nearest, monotonic), await namesFinding(nearest)]
  } catch (cause) {
    return [space, { about: 'journal disk', is: 'fault', text: `nothing can be written and synced in ${nearest} (${cause instanceof Error ? cause.message : String(cause)})` }]
  }
}

/** Journals take some hundred bytes a run; this leaves room for what failed runs print. */
const LITTLE = 200e6

async function syncFinding(folder: string, monotonic: () => number): Promise<Finding> {
  const path = join(folder, `.guardband-doctor-${process.pid}`)
  const handle = await open(path, 'wx')
  try {
    const times: number[] = []
    for (let round = 0; round < SYNCS; round++) {
      await handle.write(Buffer.alloc(RECORD, 0x20))
      const begun = monotonic()
      await handle.datasync()
      times.push(monotonic() - begun)
    }
    const middle = times.toSorted((a, b) => a - b)[SYNCS >> 1]
    const shown = `a record is on the disk within ${fixed(middle * 1000, middle < 0.001 ? 2 : 1)} ms (median of ${SYNCS})`
    return middle < TOO_FAST ? { about: 'sync', is: 'lack', text: `${shown}: faster than a disk is; this may be memory, or a disk that only says so` } : { about: 'sync', is: middle > SLOW ? 'lack' : 'well', text: middle > SLOW ? `${shown}: slow; each run waits for two` : shown }
  } finally {
    await handle.close()
    await rm(path, { force: true })
  }
}

const SYNCS = 9
const RECORD = 400
/** Seconds. The fastest drives with a write cache that survives a power cut take about 10 us. */
const TOO_FAST = 5e-6
const SLOW = 0.5

/** A new name must outlive a power cut: the folder has to be synced for it. */
async function namesFinding(folder: string): Promise<Finding> {
  if (process.platform === 'win32') return { about: 'new files', is: 'well', text: 'this system\'s file systems keep names by themselves' }
  const handle = await open(folder, 'r')
  try {
    await handle.sync()
    return { about: 'new files', is: 'well', text: 'their names are synced with their folder' }
  } catch (cause) {
    return { about: 'new files', is: 'fault', text: `this file system doesn't sync folders (${cause instanceof Error ? cause.message : String(cause)}): after a power cut a journal could be gone; put the rig's folder on another one` }
  } finally {
    await handle.close()
  }
}

/** Each command once: found and as approved, or what stands in its way. */
export function approvalFindings(plan: Plan, check: ApprovalCheck): readonly Finding[] {
  const faults: Finding[] = []
  let well = 0
  for (const { use, command } of planUses(plan)) {
    try {
      check(command)
      well += 1
    } catch (cause) {
      if (!(cause instanceof SpokenError)) throw cause
      faults.push({ about: cause.code === 'no-program' || cause.code === 'no-folder' ? 'programs' : 'approvals', is: 'fault', text: `${use}: ${cause.sentence}` })
    }
  }
  return faults.length > 0 ? faults : [{ about: 'approvals', is: 'well', text: `${counted(well, 'use')} of commands, all as approved` }]
}

export function ceilingFinding(own: readonly PlanCeiling[], plan: Plan | null, check: CeilingCheck | null): readonly Finding[] {
  const listed = [...own.map(({ name }) => `${name} (this rig's own)`), ...(plan?.ceilings ?? []).map(({ name }) => `${name} (the plan's)`)]
  const known: Finding = listed.length === 0 ? { about: 'ceilings', is: 'lack', text: 'none known: nothing here keeps a tune from any value' } : { about: 'ceilings', is: 'well', text: listed.join(', ') }
  const faults = (plan?.tunes ?? []).flatMap((tune): readonly Finding[] => {
    try {
      check?.(tune)
      return []
    } catch (cause) {
      if (!(cause instanceof SpokenError)) throw cause
      return [{ about: 'ceilings', is: 'fault', text: cause.sentence }]
    }
  })
  return [known, ...faults]
}

/** In columns, what a thing is about on the left; a mark where it isn't well. */
export function findingLines(findings: readonly Finding[]): readonly string[] {
  const width = Math.max(0, ...findings.map(({ about }) => about.length))
  return findings.map(({ about, is, text }) => `${MARKS[is]} ${about.padEnd(width)}  ${text}`)
}

const MARKS: Readonly<Record<Finding['is'], string>> = { well: ' ', lack: '-', fault: '!' }

function existing(folder: string): string {
  return existsSync(folder) || dirname(folder) === folder ? folder : existing(dirname(folder))
}
