// The simulated bench's own source of chance: xoshiro128** with one independent stream per name, uniform, normal and Student t numbers.
//
// Recurrence and output function: D. Blackman, S. Vigna, Scrambled linear pseudorandom number generators, ACM Trans. Math. Softw. 47(4), 2021.
// Normal numbers: the polar method, G. Marsaglia, T. A. Bray, SIAM Review 6:260, 1964.
import { sha256Hex } from '@guardband/model'

export interface Generator {
  /** A whole number from 0 to 2^32 - 1. */
  readonly word: () => number
  /** At least 0, below 1, 53 bits. */
  readonly uniform: () => number
  /** Mean 0, variance 1. */
  readonly normal: () => number
  /** Student t as the ratio of a normal number to the root of a mean of `df` squares; `df` is a whole number of at least 1. */
  readonly studentT: (df: number) => number
  /** A whole number from 0 to `below` - 1. */
  readonly pick: (below: number) => number
}

export type State = readonly [number, number, number, number]

/**
 * The stream called `name` under `seed`. Its state is the head of SHA-256 over both, so streams don't overlap by construction of neighbours
 * and a single lab can be made anew without the labs before it.
 */
export function namedStream(seed: number, name: string): Generator {
  const hex = sha256Hex(`${seed}/${name}`)
  const word = (index: number): number => Number.parseInt(hex.slice(index * 8, index * 8 + 8), 16)
  return generatorFrom([word(0), word(1), word(2), word(3)])
}

/** A generator that starts in this state, four 32-bit words that are not all zero. */
export function generatorFrom(state: State): Generator {
  if (state.every((word) => word >>> 0 === 0)) throw new RangeError(`state must not be all zero; got ${state.join(', ')}`)
  let [s0, s1, s2, s3] = state
  let spare: number | undefined

  const word = (): number => {
    const result = Math.imul(rotateLeft(Math.imul(s1, 5), 7), 9) >>> 0
    const shifted = s1 << 9
    s2 ^= s0
    s3 ^= s1
    s1 ^= s2
    s0 ^= s3
    s2 ^= shifted
    s3 = rotateLeft(s3, 11)
    return result
  }
  const uniform = (): number => ((word() >>> 5) * TWO_TO_26 + (word() >>> 6)) / TWO_TO_53
  const normal = (): number => {
    if (spare !== undefined) {
      const kept = spare
      spare = undefined
      return kept
    }
    for (;;) {
      const x = 2 * uniform() - 1
      const y = 2 * uniform() - 1
      const square = x * x + y * y
      if (square > 0 && square < 1) {
        const factor = Math.sqrt((-2 * Math.log(square)) / square)
        spare = y * factor
        return x * factor
      }
    }
  }
  const studentT = (df: number): number => {
    const top = normal()
    let squares = 0
    for (let index = 0; index < df; index++) squares += normal() ** 2
    return top / Math.sqrt(squares / df)
  }
  return { word, uniform, normal, studentT, pick: (below) => Math.floor(uniform() * below) }
}

const TWO_TO_26 = 67108864
const TWO_TO_53 = 9007199254740992

function rotateLeft(value: number, bits: number): number {
  return (value << bits) | (value >>> (32 - bits))
}
