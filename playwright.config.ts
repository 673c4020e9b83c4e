import { defineConfig } from 'playwright/test'
import type { HostOptions } from './e2e/fixtures.ts'

/** The same specs against the loopback server in Chromium, and in the desktop application. */
export default defineConfig<HostOptions>({
  testDir: 'e2e',
  testMatch: '*.spec.ts',
  outputDir: 'test-results/e2e',
  reporter: [['list'], ['json', { outputFile: 'test-results/e2e.json' }]],
  // Rigs run in real time: tests side by side on few processors would only make each other late.
  workers: 1,
  // Only against what hangs: no verdict depends on how fast the machine is.
  timeout: 300_000,
  expect: { timeout: 60_000 },
  use: { actionTimeout: 60_000 },
  projects: [
    { name: 'browser', use: { hostKind: 'browser' }, testIgnore: 'desktop.spec.ts' },
    // The pages are the same: their accessibility, the plot by mouse, and what stands on Light, Record and the library are
    // looked at once.
    {
      name: 'electron',
      use: { hostKind: 'electron' },
      testIgnore: ['loopback', 'axe', 'pointer', 'light', 'record', 'guided', 'library'].map(
        (name) => `${name}.spec.ts`,
      ),
    },
  ],
})
