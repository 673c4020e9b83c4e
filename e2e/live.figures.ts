import { percentile } from '../test/bench/report.ts'
import { expect, test } from './fixtures.ts'
import { describeFrames, traced, writeFigures } from './frames.ts'
import { growth, heapOf } from './heap.ts'
import { createCampaign, fillPlan, startSweep, sweepState } from './operator.ts'

const MINUTES = Number(process.env['SLEWLIGHT_LIVE_MINUTES'] ?? 10)
/** Caches and compiled code have settled by then; of a shorter run, after a third of it. */
const SETTLED_MINUTES = Math.min(3, MINUTES / 3)
const SAMPLE_MS = Math.min(30_000, (MINUTES * 60_000) / 10)
/** Length of each of the two recordings of Chromium's trace, at the beginning and at the end, ms. */
const TRACED_MS = 15_000

const megabytes = (bytes: number): string => (bytes / 1e6).toFixed(1)

test('live plot while a sweep records at 1 MS/s', async ({ page, chromiumBrowser }) => {
  await page.setViewportSize({ width: 1440, height: 900 })
  await createCampaign(page, 'Invented display F')
  // 30 transitions a repeat, 0.35 s each.
  const repeats = Math.ceil((MINUTES * 60 + 150) / (30 * 0.35))
  await page.getByRole('button', { name: /^Digitizer/ }).click()
  await fillPlan(page, { 'Sample rate': '1000', Repeats: String(repeats) })
  await startSweep(page)
  await sweepState(page, /[1-9]\d* \//)
  const heap = await heapOf(page)
  const browser = await chromiumBrowser()
  await page.waitForTimeout(10_000)
  const first = await traced(browser, page, () => page.waitForTimeout(TRACED_MS), { rests: true })
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
  // Before the snapshot, which stops the page and makes it slow for a while.
  const last = await traced(browser, page, () => page.waitForTimeout(TRACED_MS), { rests: true })
  const after = await heap.byKind()
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
