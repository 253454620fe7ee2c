// Time-sortable ids: UUID version 7 (RFC 9562 section 5.7), monotonic within a factory by the counter in rand_a (method 1 of section 6.2).

export type IdFactory = () => string

export interface IdSources {
  /** Milliseconds since 1970-01-01T00:00Z. */
  readonly now: () => number
  /** Fills the array with random bytes. */
  readonly fillRandom: (bytes: Uint8Array<ArrayBuffer>) => void
}

/** A function that makes ids. Ids from one factory rise strictly, even when the clock stands still or steps back. */
export function createIdFactory(sources: IdSources): IdFactory {
  let lastTime = -1
  let counter = 0
  return () => {
    const bytes = new Uint8Array(16)
    sources.fillRandom(bytes)
    const time = Math.floor(sources.now())
    if (time > lastTime) {
      lastTime = time
      counter = ((bytes[6] & 0x07) << 8) | bytes[7]
    } else {
      counter += 1
      if (counter > COUNTER_MAX) {
        lastTime += 1
        counter = 0
      }
    }
    writeTimeInto(bytes, lastTime)
    bytes[6] = 0x70 | (counter >>> 8)
    bytes[7] = counter & 0xff
    bytes[8] = 0x80 | (bytes[8] & 0x3f)
    return uuidText(bytes)
  }
}

/** rand_a holds 12 bits. */
const COUNTER_MAX = 0xfff

function writeTimeInto(bytes: Uint8Array, time: number): void {
  let rest = time
  for (let index = 5; index >= 0; index--) {
    bytes[index] = rest % 256
    rest = Math.floor(rest / 256)
  }
}

const HEX = Array.from({ length: 256 }, (_, byte) => byte.toString(16).padStart(2, '0'))

function uuidText(b: Uint8Array): string {
  const h = HEX
  return `${h[b[0]]}${h[b[1]]}${h[b[2]]}${h[b[3]]}-${h[b[4]]}${h[b[5]]}-${h[b[6]]}${h[b[7]]}-${h[b[8]]}${h[b[9]]}-${h[b[10]]}${h[b[11]]}${h[b[12]]}${h[b[13]]}${h[b[14]]}${h[b[15]]}`
}
