import type { Page } from 'playwright/test'
import { percentile } from '../test/bench/report.ts'
import { expect, test } from './fixtures.ts'
import { describeFrames, traced, writeFigures } from './frames.ts'

const CAPTURES = 5000
const STEPS = 40
test.use({ planted: CAPTURES })

/** Times from a key to the frame after the plot shows another capture. */
const WATCH = `
  window.stepTimes = []
  let pressedAt = 0
  addEventListener('keydown', (event) => (pressedAt = event.timeStamp), true)
  let name = ''
  new MutationObserver(() => {
    const next = document.querySelector('[role=application]')?.getAttribute('aria-label')?.match(/capture \\d+/)?.[0] ?? ''
    if (next === '' || next === name) return
    name = next
    requestAnimationFrame(() => window.stepTimes.push(performance.now() - pressedAt))
  }).observe(document.body, { subtree: true, childList: true, attributes: true, attributeFilter: ['aria-label'] })
`

async function press(page: Page, key: string, times: number, waitMs: number): Promise<void> {
  for (let i = 0; i < times; i += 1) {
    // A person presses one key after the other.
    // oxlint-disable-next-line no-await-in-loop
    await page.keyboard.press(key)
    // oxlint-disable-next-line no-await-in-loop
    await page.waitForTimeout(waitMs)
  }
}

test('trace desk on thousands of captures', async ({ page, chromiumBrowser }) => {
  const browser = await chromiumBrowser()
  await page.setViewportSize({ width: 1440, height: 900 })
  await page.getByRole('link', { name: 'Traces', exact: true }).click()
  const list = page.getByRole('grid', { name: /^Captures, / })
  await expect(list).toHaveAccessibleName(/^Captures, [1-9].* matches/)
  await list.hover()
  const scrolling = await traced(browser, page, async () => {
    for (let i = 0; i < 120; i += 1) {
      // oxlint-disable-next-line no-await-in-loop
      await page.mouse.wheel(0, 400)
      // oxlint-disable-next-line no-await-in-loop
      await page.waitForTimeout(30)
    }
  })

  await page.keyboard.press('l')
  await page.keyboard.press('Home')
  await expect(page.getByRole('heading', { name: /^Capture \d+$/ })).toBeVisible()
  await page.evaluate(WATCH)
  await press(page, 'ArrowDown', STEPS, 250)
  const steps = await page.evaluate<number[]>('window.stepTimes')
  expect(steps.length).toBeGreaterThan(STEPS * 0.9)

  await page.keyboard.press('g')
  const zooming = await traced(browser, page, async () => {
    await press(page, '+', 12, 60)
    await press(page, 'ArrowRight', 40, 60)
    await press(page, '-', 12, 60)
  })
  writeFigures('desk', [
    {
      what: `trace desk, list of ${CAPTURES} captures scrolled by wheel: work of the page for a frame, p95`,
      value: percentile(scrolling.workMs, 0.95),
      unit: 'ms',
      relation: 'under',
      bound: 16.7,
      detail: describeFrames(scrolling),
    },
    {
      what: 'trace desk, plot zoomed and moved by keys: work of the page for a frame, p95',
      value: percentile(zooming.workMs, 0.95),
      unit: 'ms',
      relation: 'under',
      bound: 16.7,
      detail: describeFrames(zooming),
    },
    {
      what: 'trace desk, from the key for the next capture to the frame that shows its trace, p95',
      value: percentile(steps, 0.95),
      unit: 'ms',
      relation: 'under',
      bound: 100,
      detail: `${steps.length} steps, median ${percentile(steps, 0.5).toFixed(1)} ms, longest ${Math.max(...steps).toFixed(1)} ms`,
    },
  ])
})
