import type { Page } from 'playwright/test'
import { percentile } from '../test/bench/report.ts'
import { expect, test } from './fixtures.ts'
import { describeFrames, traced, writeFigures } from './frames.ts'
import { createCampaign, fillPlan, startSweep, sweepState } from './operator.ts'

const MINUTES = Number(process.env['SLEWLIGHT_LIVE_MINUTES'] ?? 10)
/** Length of each of the two recordings of Chromium's trace, at the beginning and at the end, ms. */
const TRACED_MS = 15_000

const megabytes = (bytes: number): string => (bytes / 1e6).toFixed(1)

test('live plot while a sweep records at 1 MS/s', async ({ page, chromiumBrowser }) => {
  await page.setViewportSize({ width: 1440, height: 900 })
  await createCampaign(page, 'Invented display F')
  // 30 transitions a repeat, 0.35 s each.
  const repeats = Math.ceil((MINUTES * 60 + 60) / (30 * 0.35))
  await page.getByRole('button', { name: /^Digitizer/ }).click()
  await fillPlan(page, { 'Sample rate': '1000', Repeats: String(repeats) })
  await startSweep(page)
  await sweepState(page, /[1-9]\d* \//, 60_000)
  const heap = await heapReader(page)
  const browser = await chromiumBrowser()
  await page.waitForTimeout(10_000)
  const first = await traced(browser, page, () => page.waitForTimeout(TRACED_MS))
  const sizes: number[] = []
  const start = Date.now()
  do {
    sizes.push(await heap())
    await page.waitForTimeout(30_000)
  } while (Date.now() - start < MINUTES * 60_000)
  sizes.push(await heap())
  const last = await traced(browser, page, () => page.waitForTimeout(TRACED_MS))
  await expect(page.getByRole('region', { name: 'Progress' })).toContainText('running')
  await page.getByRole('button', { name: 'Stop' }).first().click()

  const p95 = Math.max(percentile(first.workMs, 0.95), percentile(last.workMs, 0.95))
  writeFigures('live', [
    {
      what: 'live plot at 1 MS/s: work of the page for a frame, p95',
      value: p95,
      unit: 'ms',
      relation: 'under',
      bound: 16.7,
      detail: `at first ${describeFrames(first)}; after ${MINUTES} min ${describeFrames(last)}`,
    },
    {
      what: `live plot at 1 MS/s: memory of the page after ${MINUTES} min, against its memory at first`,
      value: median(sizes.slice(-3)) / median(sizes.slice(0, 3)),
      unit: '×',
      relation: 'at most',
      bound: 1.1,
      detail: `JavaScript heap after a collection, MB: ${sizes.map(megabytes).join(', ')}`,
    },
  ])
})

const median = (values: readonly number[]): number => percentile(values, 0.5)

/** Bytes of JavaScript objects in the page that are still in use. */
async function heapReader(page: Page): Promise<() => Promise<number>> {
  const session = await page.context().newCDPSession(page)
  await session.send('Performance.enable')
  return async () => {
    await session.send('HeapProfiler.collectGarbage')
    const { metrics } = await session.send('Performance.getMetrics')
    return metrics.find((metric) => metric.name === 'JSHeapUsedSize')?.value ?? Number.NaN
  }
}
