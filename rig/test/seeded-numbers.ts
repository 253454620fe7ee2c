// Numbers that repeat with their seed, for tests whose moments are drawn.
import { createHash, randomInt } from 'node:crypto'

/** `GUARDBAND_SEED` repeats a test that failed; without it each run draws its own, which belongs into the test's title. */
export function drawnSeed(): number {
  const given = process.env['GUARDBAND_SEED']
  if (given === undefined) return randomInt(2 ** 31)
  if (!/^\d{1,10}$/.test(given)) throw new RangeError(`GUARDBAND_SEED must be a whole number of at most 10 digits; got ${given}`)
  return Number(given)
}

/** Evenly from 0 up to 1, out of a digest of seed, stream and place. */
export function seededNumbers(seed: number, stream: string): () => number {
  let place = 0
  return () => createHash('sha256').update(`${seed} ${stream} ${place++}`).digest().readUInt32BE() / 2 ** 32
}
