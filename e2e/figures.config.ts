import { defineConfig } from 'playwright/test'
import type { HostOptions } from './fixtures.ts'

/** The screens' figures of `npm run bench`, measured in Chromium; they are too long for the tests. */
export default defineConfig<HostOptions>({
  testDir: '.',
  testMatch: '*.figures.ts',
  outputDir: '../test-results/figures',
  reporter: [['line']],
  workers: 1,
  timeout: 20 * 60_000,
  projects: [{ name: 'browser', use: { hostKind: 'browser' } }],
})
