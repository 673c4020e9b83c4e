/** Further states to be looked at: dialogs, what a campaign asks for, what is wrong, and the report. */
import { copyFile, rm, writeFile } from 'node:fs/promises'
import { dirname, join } from 'node:path'
import { resize, setTheme } from './accessibility.ts'
import { nextFile } from './downloads.ts'
import { expect, test } from './fixtures.ts'
import { everyDialog, everyLook, everyWindow, LARGE, LOOKED_AT, makeFolders, open, settled, SMALL } from './looks.ts'
import { acknowledge, benchReady, createCampaign, createForRun, fillPlan, planOf, setUp } from './operator.ts'
import { dropFiles, recording, saved } from './recordings.ts'

test.beforeAll(makeFolders)

test.describe('the demo library', () => {
  test.use({ hostArgs: ['--demo'] })

  test('pictures of dialogs', async ({ host, page }) => {
    await resize(host, ...LARGE)
    await expect(page.getByRole('region', { name: /^Result of sweep/ })).toBeVisible({ timeout: 30_000 })
    const press = (name: RegExp | string) => async () => {
      await page.getByRole('button', { name }).first().click()
    }
    await everyDialog(host, 'dialog-edit-campaign', press('Edit…'))
    await everyDialog(host, 'dialog-export', press(/^Export/))
    await everyDialog(host, 'dialog-scale', press(/^Colour scale/))
    for (const name of ['Method', 'Campaigns', 'Record', 'Rig', 'Files', 'Command line'])
      // oxlint-disable-next-line no-await-in-loop
      await everyDialog(host, `help-${name.toLowerCase().replace(' ', '-')}`, async () => {
        await press('Help')()
        await page.getByRole('tab', { name, exact: true }).click()
      })
    await open(page, 'Campaign')
    await everyDialog(host, 'dialog-new-campaign', press('New campaign…'))
    await open(page, 'Record')
    await expect(page.getByText('The record is complete.')).toBeVisible({ timeout: 30_000 })
    await everyDialog(host, 'dialog-latency', press('Measure input latency…'))
    const adds = await page.getByRole('button', { name: /^Add .*…$/ }).allTextContents()
    for (const text of new Set(adds))
      // oxlint-disable-next-line no-await-in-loop
      await everyDialog(
        host,
        `dialog-${text
          .replace('…', '')
          .replaceAll(/[^a-z]+/gi, '-')
          .toLowerCase()}`,
        press(text),
      )
  })

  test('pictures of the report', async ({ host, page, chromiumBrowser }, testInfo) => {
    await open(page, 'Findings')
    await expect(page.getByRole('region', { name: 'Answer' })).toBeVisible({ timeout: 30_000 })
    const { bytes } = await nextFile(host, testInfo.outputDir, () =>
      page.getByRole('button', { name: 'Report, HTML' }).click(),
    )
    const file = testInfo.outputPath('report.html')
    await writeFile(file, bytes)
    const browser = await chromiumBrowser()
    for (const look of ['light', 'dark', 'print'] as const) {
      // oxlint-disable no-await-in-loop
      const width = look === 'print' ? 794 : 1440
      const report = await browser.newPage({ viewport: { width, height: 1000 } })
      await report.emulateMedia(look === 'print' ? { media: 'print' } : { colorScheme: look })
      await report.goto(`file://${file}`)
      const height = await report.evaluate<number>('document.documentElement.scrollHeight')
      for (let top = 0; top < height; top += 1300)
        await report.screenshot({
          path: join(LOOKED_AT, `report-${look}-${String(top).padStart(5, '0')}.png`),
          fullPage: true,
          clip: { x: 0, y: top, width, height: Math.min(1300, height - top) },
        })
      await report.close()
      // oxlint-enable no-await-in-loop
    }
  })
})

test('pictures of what a campaign asks for', async ({ host, page }) => {
  await resize(host, ...LARGE)
  await benchReady(page)
  await open(page, 'Campaign')
  const plan = await createForRun(page)
  await plan.getByLabel('Overdrive settings').fill('Gentle, Gentle')
  await plan.getByLabel('Refresh rates').fill('120, fast')
  await plan.getByLabel('Captures of each transition').fill('0')
  await plan.getByLabel('Captures of each transition').blur()
  await everyLook({ host, state: 'campaign-wrong' })
  await plan.getByLabel('Overdrive settings').fill('Gentle, Strong')
  await plan.getByLabel('Refresh rates').fill('120')
  await plan.getByLabel('Captures of each transition').fill('2')
  await page.getByRole('button', { name: 'Start the run' }).click()
  await expect(page.getByRole('alertdialog', { name: /Flashing light/ })).toBeVisible()
  await page.screenshot({ path: join(LOOKED_AT, 'warning-1440-dark.png') })
  await resize(host, ...SMALL)
  await page.screenshot({ path: join(LOOKED_AT, 'warning-1024-dark.png') })
  await acknowledge(page)
  const instruction = page.getByRole('alertdialog', { name: 'What to do now' })
  await expect(instruction).toContainText('Set overdrive to Gentle')
  await everyLook({ host, state: 'campaign-asks' })
  const menu = page.getByRole('complementary', { name: 'Menu of the simulated display' })
  await menu.getByText('Gentle', { exact: true }).click()
  await menu.getByLabel('Refresh rate').fill('120')
  await instruction.getByRole('button', { name: 'Done' }).click()
  await expect(page.getByRole('region', { name: 'Run' })).toContainText(/Capturing · sweep 1 of 2/, { timeout: 60_000 })
  await everyLook({ host, state: 'campaign-run' })
  await page.getByRole('button', { name: 'Pause the run' }).click()
  await expect(page.getByRole('region', { name: 'Earlier runs' })).toContainText('Gentle, Strong', { timeout: 60_000 })
  await everyLook({ host, state: 'campaign-paused' })
})

test('pictures of what is wrong', async ({ host, page }, testInfo) => {
  await resize(host, ...LARGE)
  await createCampaign(page, 'Invented display A')
  await fillPlan(page, { 'Levels, codes 0–255': '0, 51, 300', Repeats: '0', 'Refresh, Hz': '144,165' })
  await everyLook({ host, state: 'bench-plan-wrong' })
  await fillPlan(page, { 'Levels, codes 0–255': '0, 255', Repeats: '1', 'Refresh, Hz': '60' })
  await page.getByRole('group', { name: 'Status' }).getByRole('button', { name: /^Rig/ }).click()
  await page.getByRole('button', { name: 'Disconnect' }).click()
  await expect(page.getByRole('button', { name: 'Connect' })).toBeVisible()
  await everyLook({ host, state: 'bench-no-rig' })
  await page.keyboard.press('Escape')
  await expect(planOf(page)).toBeVisible()
  await open(page, 'Import')
  const nonsense = { ...recording('invented_0-64_r1.csv', 0, 64), text: 'not,a,table\nat all\n' }
  await dropFiles(
    page.locator('.recordings'),
    await saved(testInfo.outputPath('recordings'), [recording('invented_0-255_r1.csv', 0, 255), nonsense]),
  )
  await expect(page.getByText(/2 files, /)).toBeVisible({ timeout: 30_000 })
  await page.getByRole('option', { name: /^invented_0-64/ }).click()
  await everyLook({ host, state: 'import-wrong' })
  await page.evaluate("location.hash = '#/traces/999999'")
  await settled(page)
  await everyLook({ host, state: 'traces-none-such' })
})

test.describe('several archives', () => {
  test.use({ planted: 120 })
  test('pictures of displays compared, and of an archive that is not there any more', async ({
    host,
    page,
    plantedArchive,
  }) => {
    const second = join(dirname(host.archive), 'second.sqlite')
    await copyFile(await plantedArchive(120), second)
    await resize(host, ...LARGE)
    await open(page, 'Findings')
    const compared = page.getByRole('region', { name: 'Displays compared' })
    await compared.getByRole('textbox', { name: 'Path of an archive on this machine' }).fill(second)
    await compared.getByRole('button', { name: 'Add archive' }).click()
    await expect(compared.getByText(second, { exact: true })).toBeVisible()
    await everyWindow(host, 'library', '.sided-answer')
    await rm(second)
    await page.reload()
    await expect(compared.getByText(`There is no archive at ${second}.`)).toBeVisible()
    await compared.getByText(`There is no archive at ${second}.`).scrollIntoViewIfNeeded()
    await everyLook({ host, state: 'library-lost' })
  })
})

test.describe('the desk', () => {
  test.use({ planted: 500 })
  test('pictures of the panels of the desk', async ({ host, page }) => {
    await resize(host, ...SMALL)
    await open(page, 'Traces')
    await page.keyboard.press('n')
    await expect(page.getByRole('heading', { name: /^Capture \d+$/ })).toBeVisible()
    await page.keyboard.press('x')
    for (const name of ['Flags', 'Numbers', 'History'])
      for (const theme of ['light', 'dark'] as const) {
        // oxlint-disable no-await-in-loop
        await setTheme(page, theme)
        await page.getByRole('tab', { name: new RegExp(`^${name}`) }).click()
        await settled(page)
        await page.screenshot({ path: join(LOOKED_AT, `traces-${name.toLowerCase()}-1024-${theme}.png`) })
        // oxlint-enable no-await-in-loop
      }
    await page.getByRole('button', { name: /^More filters/ }).click()
    await everyLook({ host, state: 'traces-filters' })
  })
})

test('pictures of a run caught with the wrong setting, of kept plans, and of its end', async ({ host, page }) => {
  await resize(host, ...LARGE)
  await benchReady(page)
  await open(page, 'Campaign')
  const plan = await createForRun(page)
  await plan.getByLabel('Overdrive settings').fill('Gentle, Strong')
  await plan.getByLabel('Refresh rates').fill('120')
  await plan.getByLabel('Captures of each transition').fill('1')
  await plan.getByText('Kept plans').click()
  await plan.getByLabel('Name of this plan').fill('Two settings at 120 Hz')
  await everyLook({ host, state: 'campaign-kept' })
  await page.getByRole('button', { name: 'Start the run' }).click()
  await acknowledge(page)
  const instruction = page.getByRole('alertdialog', { name: 'What to do now' })
  await expect(instruction).toContainText('Set overdrive to Gentle')
  const menu = page.getByRole('complementary', { name: 'Menu of the simulated display' })
  await menu.getByText('Gentle', { exact: true }).click()
  await menu.getByLabel('Refresh rate').fill('120')
  await instruction.getByRole('button', { name: 'Done' }).click()
  await expect(instruction).toContainText('Set overdrive to Strong', { timeout: 120_000 })
  await instruction.getByRole('button', { name: 'Done' }).click()
  await expect(instruction).toContainText('This still looks like Gentle', { timeout: 60_000 })
  await everyLook({ host, state: 'campaign-caught' })
  await menu.getByText('Strong', { exact: true }).click()
  await instruction.getByRole('button', { name: 'Done' }).click()
  await expect(page.getByRole('region', { name: 'Earlier runs' })).toContainText('Findings', { timeout: 120_000 })
  await page.getByText('Sweeps of this run: skip, take again, bring back').click()
  await everyLook({ host, state: 'campaign-ended' })
})

test('pictures of a guided sequence and of the stimulus page', async ({ host, page }) => {
  await resize(host, ...LARGE)
  await createCampaign(page, 'Invented display A')
  await setUp(page)
  await page.getByRole('radio', { name: 'A real screen' }).click({ force: true })
  const stimulus = await host.openStimulus()
  await stimulus.setViewportSize({ width: 1440, height: 900 })
  await expect(stimulus.getByRole('status')).toContainText('Ready.')
  await stimulus.screenshot({ path: join(LOOKED_AT, 'stimulus-ready.png') })
  await page.bringToFront()
  await page.keyboard.press('Escape')
  await open(page, 'Record')
  await page.getByRole('button', { name: 'Add detector calibration…' }).click()
  const typed = page.getByRole('dialog', { name: 'Add detector calibration' })
  await typed.getByLabel(/^Rows/).fill('200 4 0.02')
  await typed.getByRole('button', { name: 'Store 1 row' }).click()
  const uniformity = page.getByRole('region', { name: 'Uniformity', exact: true })
  await everyDialog(host, 'guide-form', async () => {
    await uniformity.getByRole('button', { name: 'Guide me: uniformity…' }).click()
  })
  await uniformity.getByRole('button', { name: 'Guide me: uniformity…' }).click()
  await page.getByRole('dialog', { name: 'Uniformity' }).getByRole('button', { name: 'Begin' }).click()
  await acknowledge(page)
  const guide = page.getByRole('alertdialog', { name: 'Uniformity: what to do now' })
  // A page in the back is not drawn, and its refresh rate is measured first.
  await stimulus.bringToFront()
  await expect(guide).toContainText('Put the sensor on the ring', { timeout: 60_000 })
  await stimulus.screenshot({ path: join(LOOKED_AT, 'stimulus-ring.png') })
  await page.bringToFront()
  await everyLook({ host, state: 'guide-places' })
  await guide.getByRole('button', { name: 'Done, read it' }).click()
  await stimulus.bringToFront()
  await expect(guide).toContainText('Keep this reading?', { timeout: 60_000 })
  await stimulus.screenshot({ path: join(LOOKED_AT, 'stimulus-patch.png') })
  await page.bringToFront()
  await everyLook({ host, state: 'guide-judging' })
})
