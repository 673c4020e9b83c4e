/** What a limit costs while it is dragged over the demo library's largest campaign, with displays compared below. */
import { percentile } from '../test/bench/report.ts'
import { expect, test } from './fixtures.ts'
import { describeFrames, traced, writeFigures } from './frames.ts'

test.use({ hostArgs: ['--demo'] })

/** Counts figures drawn anew: each is an svg put into its holder. */
const WATCH = `
  window.drawn = 0
  new MutationObserver((changes) => {
    for (const { addedNodes } of changes)
      for (const node of addedNodes) if (node.nodeName === 'svg' || node.nodeName === 'SVG') window.drawn++
  }).observe(document.body, { subtree: true, childList: true })
`

test('a limit dragged', async ({ page, chromiumBrowser }) => {
  const browser = await chromiumBrowser()
  await page.setViewportSize({ width: 1440, height: 900 })
  await page.getByRole('link', { name: 'Findings', exact: true }).click()
  const line = page.getByRole('slider', { name: 'Limit of mean overshoot' })
  await expect(line).toBeVisible({ timeout: 60_000 })
  await expect(
    page
      .getByRole('region', { name: 'Displays compared' })
      .getByText(/best first/)
      .first(),
  ).toBeVisible()
  await line.scrollIntoViewIfNeeded()
  const box = await line.boundingBox()
  if (box === null) throw new Error('The line of the limit has no place.')
  const [x, y] = [box.x + box.width / 2, box.y + box.height / 2]
  await page.evaluate(WATCH)
  await page.mouse.move(x, y)
  await page.mouse.down()
  const steps = 120
  const dragging = await traced(browser, page, async () => {
    for (let i = 0; i < steps; i += 1) {
      // oxlint-disable-next-line no-await-in-loop
      await page.mouse.move(x, y - 60 * Math.sin((2 * Math.PI * i) / 60))
      // oxlint-disable-next-line no-await-in-loop
      await page.waitForTimeout(17)
    }
  })
  await page.mouse.up()
  const drawn = await page.evaluate<number>('window.drawn')
  writeFigures('findings', [
    {
      what: 'findings, a limit dragged over its figure: work of the page for a frame, p95',
      value: percentile(dragging.workMs, 0.95),
      unit: 'ms',
      relation: 'under',
      bound: 16.7,
      detail: `${describeFrames(dragging)}; ${steps} moves, ${drawn} figures drawn anew meanwhile`,
    },
  ])
})
