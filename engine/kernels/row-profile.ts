// Minus twice the REML log likelihood, profiled over sigma2, as a function of phi = ln(1 + widest lambda), with two derivatives.
//
//   f(phi) = (N - p) ln RSS + sum_r ln(1 + n_r lambda) + sum_g ln det A_g,   A = L + sum_n D_n M_n,   D_n = 1 / (n (1 + n lambda))
//   D_n' = -k_n D_n,  D_n'' = (2 k_n^2 - k_n) D_n,  k_n = (n/widest) e^phi / (1 + n lambda)
// Derived in docs/methods/row-intercepts.md; primes are derivatives in phi.

import { choleskyInto, choleskyInverse, choleskyLogDeterminant, choleskySolve, quadratic } from './cholesky.ts'
import type { CountBlock, GroupSums } from './row-sums.ts'

export interface ProfilePoint {
  readonly phi: number
  readonly objective: number
  readonly slope: number
  readonly curvature: number
  readonly rss: number
  /** RSS' and RSS'' */
  readonly rssSlope: number
  readonly rssCurvature: number
  /** First and second derivative of the two log determinants together. */
  readonly logSlope: number
  readonly logCurvature: number
  readonly groups: readonly ProfileGroup[]
}

export interface ProfileGroup {
  /** Fitted means minus the centre the sums were taken about. */
  readonly delta: Float64Array
  /** Factor of A. */
  readonly factor: Float64Array
  /** A' */
  readonly matrixSlope: Float64Array
}

/** lambda at phi, without cancellation near 0. */
export function lambdaOf(phi: number, widest: number): number {
  return Math.expm1(phi) / widest
}

/** Everything at one phi; null when A is not positive definite to working precision. */
export function profileAt(sums: readonly GroupSums[], widest: number, residualCount: number, phi: number): ProfilePoint | null {
  const total: Totals = { rss: 0, rssSlope: 0, rssCurvature: 0, log: 0, logSlope: 0, logCurvature: 0 }
  const groups: ProfileGroup[] = []
  for (const group of sums) {
    const fitted = addGroupInto(total, group, widest, phi)
    if (!fitted) return null
    groups.push(fitted)
  }
  const { rss, rssSlope, rssCurvature, log, logSlope, logCurvature } = total
  if (!(rss > 0)) return null
  const relative = rssSlope / rss
  return {
    phi, rss, rssSlope, rssCurvature, logSlope, logCurvature, groups,
    objective: residualCount * Math.log(rss) + log,
    slope: residualCount * relative + logSlope,
    curvature: residualCount * (rssCurvature / rss - relative * relative) + logCurvature,
  }
}

/** The objective alone, about a fifth of the work; Infinity where A is not positive definite to working precision. */
export function objectiveAt(sums: readonly GroupSums[], widest: number, residualCount: number, phi: number): number {
  let rss = 0
  let log = 0
  for (const group of sums) {
    const p = group.size
    const factor = Float64Array.from(group.within)
    const vector = Float64Array.from(group.withinVector)
    rss += group.withinSquares
    for (const block of group.blocks) {
      const weights = weightsOf(block, widest, phi)
      for (let i = 0; i < p * p; i++) factor[i] += weights.d * block.matrix[i]
      for (let i = 0; i < p; i++) vector[i] += weights.d * block.vector[i]
      rss += weights.d * block.squares
      log += block.rowCount * weights.log
    }
    if (!choleskyInto(factor, p)) return Infinity
    rss -= dot(vector, choleskySolve(factor, p, vector))
    log += choleskyLogDeterminant(factor, p)
  }
  return rss > 0 ? residualCount * Math.log(rss) + log : Infinity
}

interface Totals {
  rss: number
  rssSlope: number
  rssCurvature: number
  log: number
  logSlope: number
  logCurvature: number
}

interface Weights {
  /** ln(1 + n lambda) */
  readonly log: number
  readonly k: number
  readonly d: number
  readonly dSlope: number
  readonly dCurvature: number
}

function weightsOf(block: CountBlock, widest: number, phi: number): Weights {
  const share = block.cells / widest
  const grown = share * Math.exp(phi)
  // 1 + n lambda as a sum of two terms that are never negative.
  const spread = 1 - share + grown
  const k = grown / spread
  const d = 1 / (block.cells * spread)
  return { log: Math.log(spread), k, d, dSlope: -k * d, dCurvature: (2 * k * k - k) * d }
}

function addGroupInto(total: Totals, group: GroupSums, widest: number, phi: number): ProfileGroup | null {
  const p = group.size
  if (p === 0) return { delta: new Float64Array(0), factor: new Float64Array(0), matrixSlope: new Float64Array(0) }
  const factor = Float64Array.from(group.within)
  const matrixSlope = new Float64Array(p * p)
  const matrixCurvature = new Float64Array(p * p)
  const vector = Float64Array.from(group.withinVector)
  const vectorSlope = new Float64Array(p)
  const vectorCurvature = new Float64Array(p)
  let squares = group.withinSquares
  let squaresSlope = 0
  let squaresCurvature = 0
  for (const block of group.blocks) {
    const { log, k, d, dSlope, dCurvature } = weightsOf(block, widest, phi)
    for (let i = 0; i < p * p; i++) {
      const m = block.matrix[i]
      factor[i] += d * m
      matrixSlope[i] += dSlope * m
      matrixCurvature[i] += dCurvature * m
    }
    for (let i = 0; i < p; i++) {
      const v = block.vector[i]
      vector[i] += d * v
      vectorSlope[i] += dSlope * v
      vectorCurvature[i] += dCurvature * v
    }
    squares += d * block.squares
    squaresSlope += dSlope * block.squares
    squaresCurvature += dCurvature * block.squares
    total.log += block.rowCount * log
    total.logSlope += block.rowCount * k
    total.logCurvature += block.rowCount * k * (1 - k)
  }

  if (!choleskyInto(factor, p)) return null
  const delta = choleskySolve(factor, p, vector)
  const slopeGap = Float64Array.from(vectorSlope)
  for (let i = 0; i < p; i++) {
    for (let j = 0; j < p; j++) slopeGap[i] -= matrixSlope[i * p + j] * delta[j]
  }
  total.rss += squares - dot(vector, delta)
  total.rssSlope += squaresSlope - 2 * dot(vectorSlope, delta) + quadratic(delta, matrixSlope, delta)
  total.rssCurvature +=
    squaresCurvature -
    2 * dot(vectorCurvature, delta) +
    quadratic(delta, matrixCurvature, delta) -
    2 * dot(slopeGap, choleskySolve(factor, p, slopeGap))

  const inverse = choleskyInverse(factor, p)
  total.log += choleskyLogDeterminant(factor, p)
  total.logSlope += traceOfProduct(inverse, matrixSlope)
  const product = multiply(inverse, matrixSlope, p)
  total.logCurvature += traceOfProduct(inverse, matrixCurvature) - traceOfSquare(product, p)
  return { delta, factor, matrixSlope }
}

function dot(x: Float64Array, y: Float64Array): number {
  let sum = 0
  for (let i = 0; i < x.length; i++) sum += x[i] * y[i]
  return sum
}

/** tr(A B) for symmetric A and B. */
function traceOfProduct(a: Float64Array, b: Float64Array): number {
  return dot(a, b)
}

/** tr(A A) */
function traceOfSquare(a: Float64Array, n: number): number {
  let sum = 0
  for (let i = 0; i < n; i++) {
    for (let j = 0; j < n; j++) sum += a[i * n + j] * a[j * n + i]
  }
  return sum
}

function multiply(a: Float64Array, b: Float64Array, n: number): Float64Array {
  const product = new Float64Array(n * n)
  for (let i = 0; i < n; i++) {
    for (let k = 0; k < n; k++) {
      const left = a[i * n + k]
      for (let j = 0; j < n; j++) product[i * n + j] += left * b[k * n + j]
    }
  }
  return product
}
