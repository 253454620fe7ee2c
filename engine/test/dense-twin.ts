// The slow, obvious twin of fitRowIntercepts: the whole covariance matrix V = sigma2 (I + lambda Z Z'), REML by a grid and golden section,
// degrees of freedom from central differences of the likelihood in (row variance, cell variance). Shares no code with the engine.

export interface DenseInput {
  readonly groupOfRow: ArrayLike<number>
  readonly rows: ArrayLike<number>
  readonly columns: ArrayLike<number>
  readonly values: ArrayLike<number>
  readonly columnCount: number
}

export interface DenseFit {
  readonly lambda: number
  readonly sigma2: number
  /** -2 REML log likelihood without constants. */
  readonly deviance: number
}

export interface DenseContrast {
  readonly estimate: number
  readonly variance: number
  readonly df: number
}

type Matrix = number[][]

/** Searches lambda over (-1/n, 1e4], n the cells of the widest row. */
export function denseFit(input: DenseInput): DenseFit {
  const { V, X, y, widest } = pieces(input)
  const n = y.length - X[0].length
  const profile = (s: number): number => {
    const { rss, logs } = reml(V((Math.exp(s) - 1) / widest, 1), X, y)
    return n * Math.log(rss / n) + n + logs
  }
  let best = -11
  for (let s = -11; s <= 11; s += 0.05) if (profile(s) < profile(best)) best = s
  let [a, b] = [best - 0.06, best + 0.06]
  const golden = (Math.sqrt(5) - 1) / 2
  for (let i = 0; i < 60; i++) {
    const [c, d] = [b - golden * (b - a), a + golden * (b - a)]
    if (profile(c) < profile(d)) b = d
    else a = c
  }
  const s = (a + b) / 2
  const lambda = (Math.exp(s) - 1) / widest
  return { lambda, sigma2: reml(V(lambda, 1), X, y).rss / n, deviance: profile(s) }
}

/** -2 REML log likelihood at given lambda and sigma2, without constants. */
export function denseDeviance(input: DenseInput, lambda: number, sigma2: number): number {
  const { V, X, y } = pieces(input)
  const { rss, logs } = reml(V(lambda * sigma2, sigma2), X, y)
  return rss + logs
}

/** A contrast at given lambda and sigma2; `coefficients[g][w]`. */
export function denseContrast(input: DenseInput, lambda: number, sigma2: number, coefficients: readonly (readonly number[])[]): DenseContrast {
  const { V, X, y, means, widest } = pieces(input)
  const a = means.map(([g, w]) => coefficients[g][w])
  const variance = (rowVariance: number, cellVariance: number): number => dot(a, solve(reml(V(rowVariance, cellVariance), X, y).information, a))
  const deviance = (rowVariance: number, cellVariance: number): number => {
    const { rss, logs } = reml(V(rowVariance, cellVariance), X, y)
    return rss + logs
  }
  const at = [lambda * sigma2, sigma2]
  // Steps small against the distance to where V turns singular, 1 + widest lambda = 0.
  const room = (at[0] + at[1] / widest) / (1 + Math.max(0, lambda))
  const h = [STEP * Math.min(at[1], room) * (1 + Math.max(0, lambda)), STEP * Math.min(at[1], room)]
  const shifted = (f: (u: number, e: number) => number, i: number, j: number): number => f(at[0] + i * h[0], at[1] + j * h[1])
  const gradient = [
    (shifted(variance, 1, 0) - shifted(variance, -1, 0)) / (2 * h[0]),
    (shifted(variance, 0, 1) - shifted(variance, 0, -1)) / (2 * h[1]),
  ]
  const centre = shifted(deviance, 0, 0)
  const uu = (shifted(deviance, 1, 0) - 2 * centre + shifted(deviance, -1, 0)) / (h[0] * h[0])
  const ee = (shifted(deviance, 0, 1) - 2 * centre + shifted(deviance, 0, -1)) / (h[1] * h[1])
  const ue =
    (shifted(deviance, 1, 1) - shifted(deviance, 1, -1) - shifted(deviance, -1, 1) + shifted(deviance, -1, -1)) / (4 * h[0] * h[1])
  const half: Matrix = [[uu / 2, ue / 2], [ue / 2, ee / 2]]
  const v = variance(at[0], at[1])
  return { estimate: dot(a, reml(V(at[0], at[1]), X, y).beta), variance: v, df: (2 * v * v) / dot(gradient, solve(half, gradient)) }
}

/** Balances the truncation of second differences against their rounding; about six digits remain. */
const STEP = 5e-4

interface Pieces {
  readonly V: (rowVariance: number, cellVariance: number) => Matrix
  readonly X: Matrix
  readonly y: number[]
  readonly means: readonly (readonly [number, number])[]
  readonly widest: number
}

function pieces({ groupOfRow, rows, columns, values, columnCount }: DenseInput): Pieces {
  const key = (i: number): number => groupOfRow[rows[i]] * columnCount + columns[i]
  const cells = Array.from(values, (_v, i) => i)
  const keys = [...new Set(cells.map(key))].sort((p, q) => p - q)
  const widest = Math.max(...cells.map((i) => cells.filter((j) => rows[j] === rows[i]).length))
  return {
    V: (u, e) => cells.map((i) => cells.map((j) => (rows[i] === rows[j] ? u : 0) + (i === j ? e : 0))),
    X: cells.map((i) => keys.map((k) => (key(i) === k ? 1 : 0))),
    y: Array.from(values),
    means: keys.map((k) => [Math.floor(k / columnCount), k % columnCount] as const),
    widest,
  }
}

function reml(V: Matrix, X: Matrix, y: number[]): { rss: number; logs: number; information: Matrix; beta: number[] } {
  const inverseX = transpose(transpose(X).map((column) => solve(V, column)))
  const information = transpose(X).map((column) => transpose(inverseX).map((other) => dot(column, other)))
  const beta = solve(information, transpose(inverseX).map((column) => dot(column, y)))
  const residual = y.map((value, i) => value - dot(X[i], beta))
  return { rss: dot(residual, solve(V, residual)), logs: logDeterminant(V) + logDeterminant(information), information, beta }
}

function solve(A: Matrix, b: readonly number[]): number[] {
  const { rows } = eliminate(A, b)
  const n = b.length
  const x = Array<number>(n).fill(0)
  for (let i = n - 1; i >= 0; i--) {
    let sum = rows[i][n]
    for (let j = i + 1; j < n; j++) sum -= rows[i][j] * x[j]
    x[i] = sum / rows[i][i]
  }
  return x
}

function logDeterminant(A: Matrix): number {
  return eliminate(A, Array<number>(A.length).fill(0)).rows.reduce((sum, row, i) => sum + Math.log(Math.abs(row[i])), 0)
}

function eliminate(A: Matrix, b: readonly number[]): { rows: Matrix } {
  const rows = A.map((row, i) => [...row, b[i]])
  for (let c = 0; c < rows.length; c++) {
    let pivot = c
    for (let r = c + 1; r < rows.length; r++) if (Math.abs(rows[r][c]) > Math.abs(rows[pivot][c])) pivot = r
    ;[rows[c], rows[pivot]] = [rows[pivot], rows[c]]
    for (let r = c + 1; r < rows.length; r++) {
      const factor = rows[r][c] / rows[c][c]
      if (factor !== 0) for (let k = c; k < rows[r].length; k++) rows[r][k] -= factor * rows[c][k]
    }
  }
  return { rows }
}

function transpose(A: Matrix): Matrix {
  return A[0].map((_v, j) => A.map((row) => row[j]))
}

function dot(x: readonly number[], y: readonly number[]): number {
  return x.reduce((sum, v, i) => sum + v * y[i], 0)
}
