import { expect, it } from 'vitest'
import { fuzz, STREAM_LIMIT_MS } from './streams.ts'
import { SEED } from '../support/seed.ts'

// `npm run fuzz` runs ten times as many.
const STREAMS = 20_000

it(`${STREAMS} random header lists, blocks and handshakes: nothing false, nothing that hangs`, async () => {
  const seed = SEED
  process.stdout.write(`fuzz: seed ${seed}\n`)
  const report = await fuzz(STREAMS, seed)
  expect(report.accepted).toBeGreaterThan(STREAMS / 10)
  expect(report.refused).toBeGreaterThan(STREAMS / 10)
  expect(report.longestMs).toBeLessThan(STREAM_LIMIT_MS)
})
