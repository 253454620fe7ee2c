// Inverse of the standard normal distribution function.
//
// Method: rational approximations in three regions, algorithm AS 241 routine PPND16:
//   |p - 1/2| <= 0.425        x = q R1(0.180625 - q^2),        q = p - 1/2
//   r = sqrt(-ln min(p,1-p))  x = +-R2(r - 1.6) for r <= 5,    x = +-R3(r - 5) beyond
// Source: M. J. Wichura, Applied Statistics 37 (1988) 477-484; the constants are the paper's, written to the digits a double holds.

import { requireProbability } from './check-argument.ts'

/**
 * The x with normalCdf(x) = p.
 *
 * Valid for 0 <= p <= 1; p = 0 gives -Infinity and p = 1 gives Infinity. Relative accuracy about 1e-16 over all doubles, however far out.
 * For an upper tail u use -normalQuantile(u), never normalQuantile(1 - u).
 * Throws InvalidArgument when p is not a probability.
 *
 * @example normalQuantile(0.975) // 1.959963984540054
 */
export function normalQuantile(p: number): number {
  requireProbability('p', p)
  const q = p - 0.5
  if (Math.abs(q) <= CENTRAL_HALF_WIDTH) {
    return q * ratio(CENTRAL, CENTRAL_HALF_WIDTH * CENTRAL_HALF_WIDTH - q * q)
  }
  const tail = q < 0 ? p : 1 - p
  if (tail === 0) return q < 0 ? -Infinity : Infinity
  const r = Math.sqrt(-Math.log(tail))
  const x = r <= MIDDLE_END ? ratio(MIDDLE, r - MIDDLE_START) : ratio(FAR, r - MIDDLE_END)
  return q < 0 ? -x : x
}

interface Rational {
  /** Coefficients in rising powers. */
  readonly top: readonly number[]
  readonly bottom: readonly number[]
}

const CENTRAL_HALF_WIDTH = 0.425
const MIDDLE_START = 1.6
const MIDDLE_END = 5

const CENTRAL: Rational = {
  top: [
    3.3871328727963665, 133.14166789178438, 1971.5909503065513, 13731.69376550946,
    45921.95393154987, 67265.7709270087, 33430.57558358813, 2509.0809287301227,
  ],
  bottom: [
    1, 42.31333070160091, 687.1870074920579, 5394.196021424751,
    21213.794301586597, 39307.89580009271, 28729.085735721943, 5226.495278852546,
  ],
}

const MIDDLE: Rational = {
  top: [
    1.4234371107496835, 4.630337846156546, 5.769497221460691, 3.6478483247632045,
    1.2704582524523684, 0.2417807251774506, 0.022723844989269184, 0.0007745450142783414,
  ],
  bottom: [
    1, 2.053191626637759, 1.6763848301838038, 0.6897673349851,
    0.14810397642748008, 0.015198666563616457, 0.0005475938084995345, 1.0507500716444169e-9,
  ],
}

const FAR: Rational = {
  top: [
    6.657904643501103, 5.463784911164114, 1.7848265399172913, 0.29656057182850487,
    0.026532189526576124, 0.0012426609473880784, 0.000027115555687434876, 2.0103343992922881e-7,
  ],
  bottom: [
    1, 0.599832206555888, 0.1369298809227358, 0.014875361290850615,
    0.0007868691311456133, 0.000018463183175100548, 1.421511758316446e-7, 2.0442631033899397e-15,
  ],
}

function ratio({ top, bottom }: Rational, x: number): number {
  return polynomial(top, x) / polynomial(bottom, x)
}

function polynomial(coefficients: readonly number[], x: number): number {
  let sum = 0
  for (let i = coefficients.length - 1; i >= 0; i--) sum = sum * x + coefficients[i]
  return sum
}
