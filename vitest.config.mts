import { defineConfig } from 'vitest/config'

export default defineConfig({
  test: {
    globalSetup: 'test/support/build-workers.ts',
    include: ['test/**/*.test.ts'],
    // By default one core is left free: on two that means one test file after the other.
    maxWorkers: 2,
    // Only against what hangs: no verdict depends on how fast the machine is.
    testTimeout: 300_000,
    hookTimeout: 300_000,
    expect: { poll: { timeout: 60_000 } },
    reporters: ['default', ['json', { outputFile: 'test-results/unit.json' }]],
  },
})
