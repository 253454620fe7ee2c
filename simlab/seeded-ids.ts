// Ids that come from a seed and a simulated clock, so that equal seeds give equal records.
import { createIdFactory } from '@guardband/model'
import { namedStream } from './generator.ts'

/** Makes ids as of a moment (milliseconds since 1970); those of one name rise strictly. */
export function seededIds(seed: number, name: string): (moment: number) => string {
  const stream = namedStream(seed, `ids of ${name}`)
  let now = 0
  const make = createIdFactory({
    now: () => now,
    fillRandom: (bytes) => {
      for (let index = 0; index < bytes.length; index++) bytes[index] = stream.word() >>> HIGH_BYTE
    },
  })
  return (moment) => {
    now = moment
    return make()
  }
}

/** A word's low bits are its weakest. */
const HIGH_BYTE = 24
