// The upper quantile of Student t that reference intervals need, by integrating the density in the angle theta, t = sqrt(df) tan(theta):
// there it is proportional to cos(theta)^(df - 1), so the share of the area needs no gamma function.

/** The 97.5 % quantile for `df` of at least 1; the normal quantile for Infinity. Within 1e-9 for whole numbers and from 2 on, within 5e-5 between 1 and 2. */
export function upperQuantile(df: number): number {
  if (!(df >= 1)) throw new RangeError(`df must be at least 1; got ${df}`)
  if (df > NEARLY_NORMAL) return NORMAL_QUANTILE
  const kept = quantiles.get(df)
  if (kept !== undefined) return kept
  const density = (theta: number): number => Math.cos(theta) ** (df - 1)
  // Beyond this angle less than 1e-16 of the area is left.
  const end = Math.min(Math.PI / 2, Math.atan(LARGEST_IN_SPREADS / Math.sqrt(df)) + (df < SMALL_DF ? Math.PI : 0))
  const half = integrate(density, 0, end)
  let low = 0
  let high = end
  for (let step = 0; step < BISECTIONS; step++) {
    const middle = (low + high) / 2
    if (integrate(density, 0, middle) < WANTED_SHARE * half) low = middle
    else high = middle
  }
  const quantile = Math.sqrt(df) * Math.tan((low + high) / 2)
  quantiles.set(df, quantile)
  return quantile
}

const quantiles = new Map<number, number>()
/** 97.5 % of the whole is 95 % of the upper half. */
const WANTED_SHARE = 0.95
/** Phi^-1(0.975), a published constant. */
const NORMAL_QUANTILE = 1.959963984540054
/** The t quantile then differs by less than 1e-9 of itself. */
const NEARLY_NORMAL = 1e10
const LARGEST_IN_SPREADS = 40
/** Few degrees of freedom reach further than any fixed number of spreads: integrate to the end. */
const SMALL_DF = 60
const BISECTIONS = 48
const PANELS = 64

/** Five-point Gauss-Legendre rule on equal panels (Abramowitz & Stegun, table 25.4). */
function integrate(density: (x: number) => number, from: number, to: number): number {
  const width = (to - from) / PANELS
  let sum = 0
  for (let panel = 0; panel < PANELS; panel++) {
    const middle = from + (panel + 1 / 2) * width
    for (const [node, weight] of NODES) {
      sum += weight * (node === 0 ? density(middle) : density(middle - (node * width) / 2) + density(middle + (node * width) / 2))
    }
  }
  return (sum * width) / 2
}

const NODES: readonly (readonly [number, number])[] = [
  [0, 0.5688888888888889],
  [0.5384693101056831, 0.47862867049936647],
  [0.906179845938664, 0.23692688505618908],
]
