// Ends a process group whole: what a command started goes with it.
import { hasEnded, processStart } from './folder-lock.ts'

/** False when the group is gone already. */
export function signalGroup(pid: number, signal: 'SIGTERM' | 'SIGKILL'): boolean {
  try {
    process.kill(-pid, signal)
    return true
  } catch {
    return false
  }
}

/** A remark for the journal that lets a later runner find a group left behind. */
export function groupNote(pid: number): string {
  return `process group ${pid} started at ${processStart(pid) ?? 'an unknown tick'}`
}

/** What was found of a group: its leader at work, only what the leader left behind, or nothing. */
export type LeftGroup = 'at work' | 'leader ended' | 'gone'

/**
 * Ends a group left behind by a runner that died, and tells what was found of it. Only where the kernel's start tick shows that its leader is
 * that very process: numbers are given out anew.
 */
export function endLeftGroup(note: string): LeftGroup {
  const found = /^process group (\d+) started at (\d+)$/.exec(note)
  if (found === null) return 'gone'
  const pid = Number(found[1])
  if (processStart(pid) !== found[2]) return 'gone'
  const ended = hasEnded(pid)
  if (!signalGroup(pid, 'SIGKILL')) return 'gone'
  return ended ? 'leader ended' : 'at work'
}
