// How large a file is, as people say it.
import { fixed } from '@guardband/model/figures'

export function visibleBytes(bytes: number): string {
  const [unit, divisor] = UNITS.find((candidate) => bytes >= candidate[1]) ?? ['B', 1]
  return `${fixed(bytes / divisor, divisor === 1 || bytes >= 10 * divisor ? 0 : 1)} ${unit}`
}

const KILO = 1024
const UNITS: readonly (readonly [unit: string, bytes: number])[] = [['GB', KILO ** 3], ['MB', KILO ** 2], ['kB', KILO]]
