import { availableParallelism } from 'node:os'
import { defineConfig } from 'vitest/config'
import { findChromium } from './bench/chromium.ts'

export default defineConfig({
  test: {
    include: ['*/test/**/*.test.ts', '*/test/**/*.test.tsx'],
    exclude: ['node_modules/**', '.runtime/**'],
    setupFiles: ['scripts/test/quiet-console.ts', 'scripts/test/fixed-seed.ts'],
    // Browser tests skip themselves where this is empty; the final table says so.
    env: { CHROMIUM: findChromium(process.env) ?? '' },
    testTimeout: 60_000,
    hookTimeout: 60_000,
    pool: 'forks',
    // The default leaves one core idle, and many tests wait for processes of their own.
    maxWorkers: Math.max(2, availableParallelism()),
  },
})
