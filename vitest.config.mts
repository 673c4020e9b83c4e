import { defineConfig } from 'vitest/config'

export default defineConfig({
  test: {
    globalSetup: 'test/support/build-workers.ts',
    include: ['test/**/*.test.ts'],
    testTimeout: 30_000,
    hookTimeout: 60_000,
    reporters: ['default', ['json', { outputFile: 'test-results/unit.json' }]],
  },
})
