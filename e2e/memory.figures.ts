/** Memory of the page while a sweep records. */
import { percentile } from '../test/bench/report.ts'
import { test } from './fixtures.ts'
import { writeFigures } from './frames.ts'
import { growth, heapOf } from './heap.ts'
import { endRecording, startRecording } from './live-recording.ts'

const MINUTES = Number(process.env['SLEWLIGHT_LIVE_MINUTES'] ?? 10)
/** Caches and compiled code have settled by then; of a shorter run, after a third of it. */
const SETTLED_MINUTES = Math.min(3, MINUTES / 3)
const SAMPLE_MS = Math.min(30_000, (MINUTES * 60_000) / 10)

const megabytes = (bytes: number): string => (bytes / 1e6).toFixed(1)

test('memory of the live plot while a sweep records at 1 MS/s', async ({ page }) => {
  await startRecording(page, MINUTES)
  const heap = await heapOf(page)
  const start = Date.now()
  const sizesUntil = async (minutes: number): Promise<number[]> => {
    const sizes: number[] = []
    // A snapshot takes its time, too: three sizes on either side whatever it took.
    while (Date.now() - start < minutes * 60_000 || sizes.length < 3) {
      // One after the other: a series in time.
      // oxlint-disable no-await-in-loop
      await page.waitForTimeout(SAMPLE_MS)
      sizes.push(await heap.size())
      // oxlint-enable no-await-in-loop
    }
    return sizes
  }
  const settling = await sizesUntil(SETTLED_MINUTES)
  const before = await heap.byKind()
  const later = await sizesUntil(MINUTES)
  const after = await heap.byKind()
  await endRecording(page)
  writeFigures('memory', [
    {
      what: `live plot at 1 MS/s: memory of the page after ${MINUTES} min, against after ${SETTLED_MINUTES.toFixed(1)} min`,
      value: median(later.slice(-3)) / median([...settling.slice(-2), ...later.slice(0, 1)]),
      unit: '×',
      relation: 'at most',
      bound: 1.1,
      detail: `JavaScript heap after a collection, MB: ${settling.map(megabytes).join(', ')} | ${later.map(megabytes).join(', ')}; ${growth(before, after)}`,
    },
  ])
})

const median = (values: readonly number[]): number => percentile(values, 0.5)
