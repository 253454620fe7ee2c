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

const HEX = new TextEncoder().encode('0123456789abcdef')
/** Where the two digits of each byte stand; the hyphens stay where they are. */
const PLACES = [0, 2, 4, 6, 9, 11, 14, 16, 19, 21, 24, 26, 28, 30, 32, 34]
const letters = new TextEncoder().encode('00000000-0000-0000-0000-000000000000')
const decoder = new TextDecoder()

/** Decoded in one piece: a text put together from pieces keeps them all, which counts where hundreds of thousands are made. */
function uuidText(bytes: Uint8Array): string {
  PLACES.forEach((place, index) => {
    letters[place] = HEX[bytes[index] >>> 4]
    letters[place + 1] = HEX[bytes[index] & 0x0f]
  })
  return decoder.decode(letters)
}
