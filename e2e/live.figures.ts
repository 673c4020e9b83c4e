/**
 * Work of the page for a frame of the live plot. Memory is measured in another sweep (`memory.figures.ts`): the
 * collections it asks for throw away code that the page has compiled.
 */
import { percentile } from '../test/bench/report.ts'
import { test } from './fixtures.ts'
import { describeFrames, type Frames, traced, writeFigures } from './frames.ts'
import { endRecording, startRecording } from './live-recording.ts'

/** Time from the first recording of Chromium's trace to the second one. */
const APART_MINUTES = Number(process.env['SLEWLIGHT_LIVE_MINUTES'] ?? 3)
/** Length of each recording, ms. */
const TRACED_MS = 15_000

test('live plot while a sweep records at 1 MS/s', async ({ page, chromiumBrowser }) => {
  await startRecording(page, APART_MINUTES)
  const browser = await chromiumBrowser()
  const traceIt = (): Promise<Frames> => traced(browser, page, () => page.waitForTimeout(TRACED_MS), { rests: true })
  await page.waitForTimeout(10_000)
  const first = await traceIt()
  await page.waitForTimeout(APART_MINUTES * 60_000)
  const last = await traceIt()
  await endRecording(page)
  writeFigures('live', [
    {
      what: 'live plot at 1 MS/s: work of the page for a frame, p95',
      value: Math.max(percentile(first.workMs, 0.95), percentile(last.workMs, 0.95)),
      unit: 'ms',
      relation: 'under',
      bound: 16.7,
      detail: `at first ${describeFrames(first)}; ${APART_MINUTES} min later ${describeFrames(last)}`,
    },
  ])
})
