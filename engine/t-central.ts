// The middle of Student's t: P(0 < T <= t) near t = 0, where general routines lose it against 1/2.
//
//   P(T <= t) - 1/2 = f(0) t S(t),  S(t) = 2F1(1/2, (df+1)/2; 3/2; -t^2/df),  f the density
// Source: Abramowitz & Stegun, Handbook of Mathematical Functions (1964), 26.7.1 with 15.1.1.

import stdlibTPdf from '@stdlib/stats-base-dists-t-pdf'

/** P(T <= t) - 1/2. For |t| <= 0.1 and t^2 <= df / 100 (the series then converges in a few terms); the caller checks. */
export function tCentralProbability(t: number, df: number): number {
  return stdlibTPdf(0, df) * t * series(t, df)
}

/** The t with P(T <= t) - 1/2 = offset, for |offset| <= 0.01 min(1, df); the caller checks. */
export function tCentralQuantile(offset: number, df: number): number {
  const peak = stdlibTPdf(0, df)
  let t = offset / peak
  for (let i = 0; i < NEWTON_STEPS; i++) {
    const slope = peak * Math.exp((-(df + 1) / 2) * Math.log1p((t * t) / df))
    const step = (peak * t * series(t, df) - offset) / slope
    t -= step
    if (Math.abs(step) <= Number.EPSILON * Math.abs(t)) break
  }
  return t
}

/** Newton from the linear start doubles its digits each time; three steps reach 1e-16 here, the rest is reserve. */
const NEWTON_STEPS = 6

/** Far above the dozen terms ever needed inside the stated range. */
const TERM_LIMIT = 100

function series(t: number, df: number): number {
  const z = -(t * t) / df
  let term = 1
  let sum = 1
  for (let k = 0; Math.abs(term) > Number.EPSILON * Math.abs(sum) && k < TERM_LIMIT; k++) {
    term *= ((k + 0.5) * (k + (df + 1) / 2) * z) / ((k + 1.5) * (k + 1))
    sum += term
  }
  return sum
}
