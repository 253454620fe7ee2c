// What the engine offers. Each function lives in a file of its own; its docstring is its contract.

export { InvalidArgument } from './invalid-argument.ts'
export { linearTrend, type LinearTrend, type TrendInput } from './linear-trend.ts'
export { meanAndVariance, type MeanAndVariance } from './mean-and-variance.ts'
export { normalCdf } from './normal-cdf.ts'
export { normalQuantile } from './normal-quantile.ts'
export { pooledVariance, type PooledVariance } from './pooled-variance.ts'
export { tCdf } from './t-cdf.ts'
export { tProbabilityAbove } from './t-probability-above.ts'
export { tQuantile } from './t-quantile.ts'
export { tUpperTail } from './t-upper-tail.ts'
export { welchSatterthwaite, type VarianceTerm } from './welch-satterthwaite.ts'
