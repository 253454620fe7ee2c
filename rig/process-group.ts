// Ends a process group whole: what a command started goes with it.
import { processStart } from './folder-lock.ts'

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

/**
 * Ends a group left behind by a runner that died; true when one was there. Only where the kernel's start tick shows that its leader is that
 * very process: numbers are given out anew.
 */
export function endLeftGroup(note: string): boolean {
  const found = /^process group (\d+) started at (\d+)$/.exec(note)
  if (found === null) return false
  const pid = Number(found[1])
  return processStart(pid) === found[2] && signalGroup(pid, 'SIGKILL')
}
