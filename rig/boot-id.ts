// Names the boot that this process runs in: another name after a restart of the machine.
import { readFileSync } from 'node:fs'
import { uptime } from 'node:os'

/**
 * The kernel's own boot id where there is one (Linux). Elsewhere the minute of the boot, reckoned from clock and uptime: `booted-minute-N`,
 * which a clock set anew can shift, so that sameBoot allows some minutes.
 */
export function readBootId(now: () => number): string {
  try {
    return readFileSync('/proc/sys/kernel/random/boot_id', 'utf8').trim()
  } catch {
    return `${RECKONED}${Math.round((now() - uptime() * 1000) / 60_000)}`
  }
}

export function sameBoot(a: string, b: string): boolean {
  if (a === b) return true
  if (!a.startsWith(RECKONED) || !b.startsWith(RECKONED)) return false
  return Math.abs(Number(a.slice(RECKONED.length)) - Number(b.slice(RECKONED.length))) <= SAME_BOOT_MINUTES
}

const RECKONED = 'booted-minute-'

/** Rounding moves the reckoned minute by one, a time service's correction by another; no machine restarts and reaches its rig within two. */
const SAME_BOOT_MINUTES = 2
