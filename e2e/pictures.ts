/** The README's pictures, and every screen and state at both sizes in both themes to be looked at. */
import { join } from 'node:path'
import { resize } from './accessibility.ts'
import { expect, test } from './fixtures.ts'
import { everyLook, everyWindow, LARGE, LOOKED_AT, makeFolders, open, settled, SMALL } from './looks.ts'
import { createCampaign, fillPlan, startSweep, sweepState } from './operator.ts'
import { dropFiles, recording, saved } from './recordings.ts'

test.beforeAll(makeFolders)

test('pictures of an empty archive and of a sweep on the simulated rig', async ({ host, page }) => {
  await resize(host, ...LARGE)
  for (const screen of ['Campaign', 'Findings', 'Traces', 'Recipes', 'Light', 'Record', 'Import']) {
    await open(page, screen)
    await everyLook({ host, state: `empty-${screen.toLowerCase()}` })
  }
  await open(page, 'Bench')
  await createCampaign(page, 'Invented display A')
  await page.getByRole('button', { name: 'Check now' }).click()
  await expect(page.getByRole('status', { name: 'Outcome of the list' })).toBeVisible({ timeout: 20_000 })
  await page.getByRole('button', { name: 'White' }).click()
  await everyLook({ host, state: 'bench-plan' })
  await page.getByRole('button', { name: /^Stimulus/ }).click()
  await everyLook({ host, state: 'bench-set-up' })
  await page.keyboard.press('Escape')
  await fillPlan(page, { Setting: 'Strong', Repeats: '3' })
  await startSweep(page)
  await sweepState(page, /[4-7]\d \/ 126/)
  await everyLook({ host, state: 'bench-sweep' })
  await sweepState(page, /126 \/ 126/)
  await sweepState(page, /Finished/i)
  await everyLook({ host, state: 'bench-result', readme: 'bench-result' })
  await page.getByRole('button', { name: /^Show .* worst duration$/ }).click()
  await expect(page.getByRole('region', { name: 'Trace' })).toContainText(/Capture \d+/)
  await everyLook({ host, state: 'bench-trace', readme: 'bench-trace' })
  await page.getByRole('tab', { name: 'Uncertainty' }).click()
  await everyLook({ host, state: 'bench-uncertainty' })
})

test.describe('the demo library', () => {
  test.use({ hostArgs: ['--demo'] })
  test('pictures of campaign, findings, light, record, help and the Bench', async ({ host, page }) => {
    await resize(host, ...LARGE)
    await expect(page.getByRole('region', { name: /^Result of sweep/ })).toBeVisible({ timeout: 30_000 })
    await everyLook({ host, state: 'demo-bench' })
    await page.getByRole('button', { name: 'Help' }).click()
    await expect(page.getByRole('dialog')).toBeVisible()
    await settled(page)
    await page.screenshot({ path: join(LOOKED_AT, 'help-1440-dark.png') })
    await resize(host, ...SMALL)
    await page.screenshot({ path: join(LOOKED_AT, 'help-1024-dark.png') })
    await page.keyboard.press('Escape')
    await open(page, 'Findings')
    await expect(page.getByRole('region', { name: 'Answer' })).toBeVisible({ timeout: 30_000 })
    await everyLook({ host, state: 'findings', readme: 'findings' })
    await everyWindow(host, 'findings', '.sided-answer')
    await open(page, 'Campaign')
    await expect(page.getByRole('region', { name: 'Plan' })).toBeVisible()
    await everyLook({ host, state: 'campaign-plan', readme: 'campaign-plan' })
    await open(page, 'Light')
    await expect(page.getByText('Percent flicker').first()).toBeVisible({ timeout: 30_000 })
    await everyLook({ host, state: 'light', readme: 'light' })
    await open(page, 'Record')
    await expect(page.getByText('The record is complete.')).toBeVisible({ timeout: 30_000 })
    await everyLook({ host, state: 'record', readme: 'record' })
    await everyWindow(host, 'record', '.sided-answer')
  })
})

test('picture of the import desk with invented recordings', async ({ host, page }, testInfo) => {
  await resize(host, ...LARGE)
  await open(page, 'Import')
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
  await everyLook({ host, state: 'import', readme: 'import' })
})

test.describe('the desk', () => {
  test.use({ planted: 500 })
  test('pictures of the trace desk on a simulated archive with planted defects', async ({ host, page }) => {
    const press = async (...keys: string[]): Promise<void> => {
      for (const key of keys) {
        // A person presses one key after the other.
        // oxlint-disable-next-line no-await-in-loop
        await page.keyboard.press(key, { delay: 40 })
      }
    }
    await resize(host, ...LARGE)
    await page.evaluate("location.hash = '#/traces?flag=differs-from-repeats&sort=transition_duration_s&order=down'")
    await expect(page.getByRole('grid', { name: /^Captures, [1-9]/ })).toBeVisible()
    await press('l', 'ArrowDown')
    await expect(page.getByRole('heading', { name: /^Capture \d+$/ })).toBeVisible()
    await press('e')
    await page.getByLabel('Your name').fill('Invented reviewer')
    await page.getByRole('button', { name: 'Sensor moved' }).click()
    await everyLook({ host, state: 'traces', readme: 'traces' })
    const shown = (await page.getByRole('heading', { name: /^Capture \d+$/ }).textContent()) ?? ''
    await page.getByRole('button', { name: /^Exclude capture/ }).click()
    // A decision leads to the next doubtful one; the picture is of this one.
    await expect(page.getByRole('heading', { name: /^Capture \d+$/ })).not.toHaveText(shown)
    await page.evaluate(`location.hash = '#/traces/${shown.replace('Capture ', '')}'`)
    await expect(page.getByRole('status', { name: 'Standing decision' })).toContainText('excluded')
    await press('g', 'o', 'd', 'c')
    await everyLook({ host, state: 'traces-repeats' })
    await press('o', 'd', 'c', 'b', 'w')
    await everyLook({ host, state: 'traces-marks' })
  })
})

test('pictures of the recipes', async ({ host, page }) => {
  await resize(host, ...LARGE)
  await createCampaign(page, 'Invented display A')
  await fillPlan(page, { Setting: 'Strong', 'Levels, codes 0–255': '0, 64, 128, 192, 255', Repeats: '5' })
  await startSweep(page)
  await sweepState(page, /100 \/ 100/)
  await sweepState(page, /Finished/i)
  await open(page, 'Recipes')
  await page.getByRole('radio', { name: 'All', exact: true }).click()
  const band = page.getByRole('slider', { name: 'End band, half width' })
  await band.focus()
  for (let i = 0; i < 15; i++) await page.keyboard.press('ArrowLeft')
  await expect(page.getByRole('table', { name: 'Numbers of the example' })).toContainText(/Settling.*\+/)
  await everyLook({ host, state: 'recipes-edit', readme: 'recipes-edit' })
  await page.getByRole('tab', { name: 'Sample' }).click()
  await page.getByRole('button', { name: 'Measure a sample' }).click()
  await expect(page.getByText(/60 of 100 captures/)).toBeVisible({ timeout: 30_000 })
  await everyLook({ host, state: 'recipes-sample' })
  await page.getByRole('button', { name: 'Save as new recipe' }).click()
  await page.getByRole('tab', { name: 'Apply and compare' }).click()
  await page.getByRole('button', { name: 'Apply to all captures' }).click()
  await expect(page.getByRole('table', { name: 'Transitions that changed most' })).toBeVisible({ timeout: 30_000 })
  await page.getByRole('button', { name: 'Use for all screens' }).click()
  await everyLook({ host, state: 'recipes-compare' })
})
