import { defineConfig } from 'vitest/config'

export default defineConfig({
  test: {
    globalSetup: 'test/support/build-workers.ts',
    include: ['test/**/*.test.ts'],
    // By default one core is left free: on two that means one test file after the other.
    maxWorkers: 2,
    testTimeout: 30_000,
    hookTimeout: 60_000,
    reporters: ['default', ['json', { outputFile: 'test-results/unit.json' }]],
  },
})
