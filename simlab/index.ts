// The simulated bench: labs with known truth, and the demo workspace.
export * from './emit.ts'
export * from './generator.ts'
export type { Known, KnownError, ScopeFigures } from './known-variances.ts'
export * from './scenario.ts'
export * from './scenario-files.ts'
export * from './t-quantile.ts'
