import { mkdirSync } from 'node:fs'
import { join } from 'node:path'
import { expect, test, type Page } from './fixtures.ts'
import { createCampaign, fillPlan, startSweep, sweepState } from './operator.ts'
import { ROOT } from './processes.ts'

const FOLDER = join(ROOT, 'assets/screenshots')

const picturesOf =
  (page: Page) =>
  async (name: string): Promise<void> => {
    await page.waitForTimeout(700)
    await page.screenshot({ path: join(FOLDER, `${name}.png`) })
  }

test.beforeAll(() => {
  mkdirSync(FOLDER, { recursive: true })
})

test('pictures of the bench on the simulated rig', async ({ page }) => {
  const picture = picturesOf(page)
  await page.setViewportSize({ width: 1440, height: 900 })
  await createCampaign(page, 'Invented display A')
  await fillPlan(page, { Setting: 'Strong', Repeats: '3' })
  await startSweep(page)
  await sweepState(page, /Captures[4-6]\d \/ 90/, 60_000)
  await picture('bench-sweep')
  await sweepState(page, /90 \/ 90/, 60_000)
  await sweepState(page, /Finished/i, 20_000)
  await page
    .getByRole('grid')
    .getByRole('gridcell')
    .filter({ hasText: /\d\.\d/ })
    .nth(3)
    .click()
  await page
    .getByRole('button', { name: /Show the trace/ })
    .first()
    .click()
  await expect(page.getByRole('region', { name: 'Trace' })).toContainText(/Capture \d+/)
  await picture('bench-trace')
  await page.setViewportSize({ width: 1024, height: 700 })
  await picture('bench-small')
})

test.describe('the desk', () => {
  test.use({ planted: 500 })
  test('pictures of the trace desk on a simulated archive with planted defects', async ({ page }) => {
    const picture = picturesOf(page)
    const press = async (...keys: string[]): Promise<void> => {
      for (const key of keys) {
        // A person presses one key after the other.
        // oxlint-disable-next-line no-await-in-loop
        await page.keyboard.press(key, { delay: 40 })
      }
    }
    await page.setViewportSize({ width: 1440, height: 900 })
    await page.evaluate("location.hash = '#/traces?flag=differs-from-repeats&sort=transition_duration_s&order=down'")
    await expect(page.getByRole('grid', { name: /^Captures, [1-9]/ })).toBeVisible()
    await press('l', 'ArrowDown')
    await expect(page.getByRole('heading', { name: /^Capture \d+$/ })).toBeVisible()
    await press('e')
    await page.getByLabel('Your name').fill('Invented reviewer')
    await page.getByRole('button', { name: 'Sensor moved' }).click()
    await picture('traces')
    await page.getByRole('button', { name: /^Exclude capture/ }).click()
    await expect(page.getByRole('status', { name: 'Standing decision' })).toContainText('excluded')
    await press('g', 'o', 'd', 'c')
    await picture('traces-repeats')
    await press('o', 'd', 'c', 'b', 'w', 't')
    await picture('traces-marks')
    await press('b', 't')
    await page.setViewportSize({ width: 1024, height: 700 })
    await page.getByRole('tab', { name: /^Flags/ }).click()
    await picture('traces-small')
  })
})
