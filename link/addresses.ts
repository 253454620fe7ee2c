// The addresses under which this machine can be reached from its own network.
import { isIPv4 } from 'node:net'
import { networkInterfaces } from 'node:os'

/** IPv4, those of private networks first; without its own loopback. */
export function lanAddresses(interfaces: ReturnType<typeof networkInterfaces> = networkInterfaces()): readonly string[] {
  const all = Object.values(interfaces).flatMap((list) => list ?? [])
  const own = all.filter(({ internal, address }) => !internal && isIPv4(address) && !address.startsWith('169.254.')).map(({ address }) => address)
  return [...new Set(own)].toSorted((a, b) => Number(isPrivate(b)) - Number(isPrivate(a)))
}

/** RFC 1918, section 3. */
function isPrivate(address: string): boolean {
  return /^(?:10\.|192\.168\.|172\.(?:1[6-9]|2\d|3[01])\.)/.test(address)
}
