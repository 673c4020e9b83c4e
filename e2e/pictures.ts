import { mkdirSync } from 'node:fs'
import { join } from 'node:path'
import { expect, test } from './fixtures.ts'
import { createCampaign, fillPlan, startSweep, sweepState } from './operator.ts'
import { ROOT } from './processes.ts'

const FOLDER = join(ROOT, 'assets/screenshots')

test('pictures of the bench on the simulated rig', async ({ page }) => {
  mkdirSync(FOLDER, { recursive: true })
  const picture = (name: string): Promise<Buffer> => page.screenshot({ path: join(FOLDER, `${name}.png`) })
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
  await page.waitForTimeout(500)
  await picture('bench-trace')
  await page.setViewportSize({ width: 1024, height: 700 })
  await page.waitForTimeout(500)
  await picture('bench-small')
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
