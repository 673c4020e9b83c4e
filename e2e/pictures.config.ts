import { defineConfig } from 'playwright/test'
import type { HostOptions } from './fixtures.ts'

/** `npm run screenshots`: the README's pictures, and every state to be looked at. */
export default defineConfig<HostOptions>({
  testDir: '.',
  testMatch: ['pictures.ts', 'pictures-states.ts'],
  outputDir: '../test-results/pictures',
  workers: 1,
  timeout: 300_000,
  projects: [{ name: 'browser', use: { hostKind: 'browser' } }],
})
