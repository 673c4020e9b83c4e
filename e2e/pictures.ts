import { mkdirSync } from 'node:fs'
import { join } from 'node:path'
import { expect, test, type Page } from './fixtures.ts'
import { createCampaign, fillPlan, startSweep, sweepState } from './operator.ts'
import { ROOT } from './processes.ts'
import { dropFiles, recording, saved } from './recordings.ts'

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
  await page.getByRole('button', { name: 'Check now' }).click()
  await expect(page.getByRole('status', { name: 'Outcome of the list' })).toBeVisible({ timeout: 20_000 })
  await page.getByRole('button', { name: 'White' }).click()
  await picture('bench-plan')
  await fillPlan(page, { Setting: 'Strong', 'Levels, codes 0–255': '0, 51, 102, 153, 204, 255', Repeats: '3' })
  await startSweep(page)
  await sweepState(page, /[4-6]\d \/ 90/, 60_000)
  await picture('bench-sweep')
  await sweepState(page, /90 \/ 90/, 60_000)
  await sweepState(page, /Finished/i, 20_000)
  await picture('bench-result')
  await page.getByRole('button', { name: /^Show .* worst duration$/ }).click()
  await expect(page.getByRole('region', { name: 'Trace' })).toContainText(/Capture \d+/)
  await picture('bench-trace')
  await page.setViewportSize({ width: 1024, height: 700 })
  await picture('bench-small')
})

test('picture of the import desk with invented recordings', async ({ page }, testInfo) => {
  mkdirSync(FOLDER, { recursive: true })
  await page.setViewportSize({ width: 1440, height: 900 })
  await page.getByRole('link', { name: 'Import' }).click()
  const levels = [0, 64, 128, 192, 255]
  const files = levels.flatMap((from) =>
    levels
      .filter((to) => to !== from)
      .map((to) => recording(`invented_${from}-${to}_r1.csv`, from, to, { tauS: from < to ? 0.0035 : 0.005 })),
  )
  const nameless = recording('invented_bright-to-dark.csv', 255, 0)
  const comma = recording('invented_0-255_r2.csv', 0, 255, { delimiter: ';', decimal: ',' })
  await dropFiles(
    page.locator('.recordings'),
    await saved(testInfo.outputPath('recordings'), [...files, nameless, comma]),
  )
  await page.getByRole('button', { name: 'New campaign' }).click()
  const dialog = page.getByRole('dialog', { name: 'New campaign' })
  await dialog.getByLabel('Name').fill('Invented display A')
  await dialog.getByRole('button', { name: 'Create campaign' }).click()
  await page.getByLabel('Setting').fill('Strong')
  await page.getByLabel('Refresh, Hz').fill('144')
  await expect(page.getByText('22 files, 21 ready, 1 needs attention')).toBeVisible({ timeout: 30_000 })
  await page.getByRole('option', { name: /^invented_0-255_r2/ }).click()
  await expect(page.getByRole('img', { name: /^Trace of invented_0-255_r2/ })).toBeVisible()
  await page.waitForTimeout(500)
  await page.screenshot({ path: join(FOLDER, 'import.png') })
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

test('pictures of the recipes', async ({ page }) => {
  mkdirSync(FOLDER, { recursive: true })
  const picture = async (name: string): Promise<void> => {
    await page.waitForTimeout(500)
    await page.screenshot({ path: join(FOLDER, `${name}.png`) })
  }
  await page.setViewportSize({ width: 1440, height: 900 })
  await createCampaign(page, 'Invented display A')
  await fillPlan(page, { Setting: 'Strong', 'Levels, codes 0–255': '0, 64, 128, 192, 255', Repeats: '5' })
  await startSweep(page)
  await sweepState(page, /100 \/ 100/, 90_000)
  await sweepState(page, /Finished/i, 20_000)
  await page.getByRole('link', { name: 'Recipes', exact: true }).click()
  await page.getByRole('radio', { name: 'All', exact: true }).click()
  const band = page.getByRole('slider', { name: 'End band, half width' })
  await band.focus()
  for (let i = 0; i < 15; i++) await page.keyboard.press('ArrowLeft')
  await expect(page.getByRole('table', { name: 'Numbers of the example' })).toContainText(/Settling.*\+/)
  await picture('recipes-edit')
  await page.getByRole('tab', { name: 'Sample' }).click()
  await page.getByRole('button', { name: 'Measure a sample' }).click()
  await expect(page.getByText(/60 of 100 captures/)).toBeVisible({ timeout: 30_000 })
  await picture('recipes-sample')
  await page.getByRole('button', { name: 'Save as new recipe' }).click()
  await page.getByRole('tab', { name: 'Apply and compare' }).click()
  await page.getByRole('button', { name: 'Apply to all captures' }).click()
  await expect(page.getByRole('table', { name: 'Transitions that changed most' })).toBeVisible({ timeout: 30_000 })
  await page.getByRole('button', { name: 'Use for all screens' }).click()
  await picture('recipes-compare')
  await page.setViewportSize({ width: 1024, height: 700 })
  await picture('recipes-small')
})
