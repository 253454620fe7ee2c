/**
 * Property tests draw the same cases in every run, so that a test says of a tree what it said before. New cases are hunted on purpose:
 * GUARDBAND_CASES takes a number, or "new" for a fresh seed, which a failure then names.
 */
import { configureGlobal } from 'fast-check'

const wanted = process.env['GUARDBAND_CASES']

if (wanted !== 'new') {
  const seed = wanted === undefined ? 20_261_101 : Number(wanted)
  if (!Number.isInteger(seed)) throw new RangeError(`GUARDBAND_CASES must be a whole number or "new"; got ${wanted}`)
  configureGlobal({ seed })
}
