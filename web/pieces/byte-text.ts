// How large a file is, as people say it.
import { fixed } from '@guardband/model/figures'

export function byteText(bytes: number): string {
  if (bytes < KILO) return `${bytes}\u00a0B`
  if (bytes < KILO ** 2) return `${fixed(bytes / KILO, 0)}\u00a0kB`
  if (bytes < KILO ** 3) return `${fixed(bytes / KILO ** 2, bytes < 10 * KILO ** 2 && bytes % KILO ** 2 !== 0 ? 1 : 0)}\u00a0MB`
  return `${fixed(bytes / KILO ** 3, bytes % KILO ** 3 === 0 ? 0 : 1)}\u00a0GB`
}

const KILO = 1024
