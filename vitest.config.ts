import { defineConfig } from 'vitest/config'

export default defineConfig({
  test: {
    include: ['*/test/**/*.test.ts'],
    exclude: ['node_modules/**', '.runtime/**'],
    testTimeout: 30_000,
    pool: 'forks',
  },
})
