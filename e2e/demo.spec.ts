/** The first minute of a newcomer: the demo library, its headline, the worst cell, its trace, and back. */
import { expect, test } from './fixtures.ts'
import { benchReady } from './operator.ts'

test('the demo library opens beside the own archive, marked as invented, and is left again', async ({ host, page }) => {
  await benchReady(page)
  const openDemo = page.getByRole('button', { name: 'Open the demo library' }).first()
  const making = page.getByRole('progressbar', { name: 'Making the demo library' })
  await openDemo.click()
  await expect(making).toHaveAttribute('aria-valuetext', /^[1-9]\d* of [\d\s]+ captures$/)
  await page.getByRole('complementary', { name: 'Demo library' }).getByRole('button', { name: 'Cancel' }).click()
  await expect(making).toBeHidden()
  // Cancelling is no failure, and the own archive is still the one that is open.
  await expect(page.getByRole('alert')).toHaveCount(0)
  await openDemo.click()
  await expect(making).toBeVisible()
  const banner = page.getByRole('note').filter({ hasText: 'every display and number here is invented' })
  await expect(banner).toBeVisible({ timeout: 120_000 })
  const headline = page.getByRole('region', { name: /^Result of sweep/ })
  await expect(headline).toBeVisible()
  await page.screenshot({ path: test.info().outputPath('demo-bench.png') })
  for (const [screen, text] of [
    ['Findings', 'Usable means'],
    ['Traces', 'differs-from-repeats'],
  ] as const) {
    await page.getByRole('link', { name: screen, exact: true }).click()
    if (screen === 'Findings') {
      await expect(page.getByRole('heading', { name: text })).toBeVisible()
      const displays = page.getByRole('region', { name: 'Displays compared' })
      await expect(displays.getByText(/ with U95, best first: .+ with .+, .+ with /)).toBeVisible()
    }
    await expect(banner).toBeVisible()
    await page.screenshot({ path: test.info().outputPath(`demo-${screen}.png`) })
  }
  await banner.getByRole('button', { name: 'Go back to your archive' }).click()
  await expect(banner).toBeHidden()
  await benchReady(page)
  await expect(page.getByRole('button', { name: 'Open the demo library' }).first()).toBeVisible()
  expect(host.problems.filter((text) => !/WebSocket|connection/i.test(text))).toEqual([])
})
