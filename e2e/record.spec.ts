/** The Record screen: what is missing, adding by file and by typing, the demo library's complete record. */
import { writeFile } from 'node:fs/promises'
import { expectWhole, resize } from './accessibility.ts'
import { expect, test, type Page } from './fixtures.ts'
import { acknowledge, createCampaign } from './operator.ts'

const PATCHES = `CGATS.17
ORIGINATOR "invented"
BEGIN_DATA_FORMAT
SAMPLE_ID RGB_R RGB_G RGB_B XYZ_X XYZ_Y XYZ_Z
END_DATA_FORMAT
BEGIN_DATA
1 0 0 0 0.1 0.1 0.11
2 64 64 64 5.9 6.2 6.7
3 128 128 128 24.6 25.9 28.2
4 192 192 192 60.1 63.3 68.9
5 255 255 255 114.05 120.00 130.69
6 255 0 0 49.5 25.5 2.3
7 0 255 0 42.9 85.8 14.3
8 0 0 255 21.7 8.7 114.0
END_DATA
`

async function openRecord(page: Page): Promise<void> {
  await page.getByRole('link', { name: 'Record', exact: true }).click()
  await expect(page.getByRole('complementary', { name: 'Which display' })).toBeVisible()
}

test.describe('an own archive', () => {
  test.use({ planted: 500 })

  test('colour patches come from a file once their scale is told, uniformity is typed, and is left out again', async ({
    host,
    page,
  }, testInfo) => {
    await resize(host, 1440, 900)
    await openRecord(page)
    await expect(page.getByText(/0 of 8 quantities are complete/)).toBeVisible()
    const colour = page.getByRole('region', { name: 'Colour', exact: true })
    await colour.getByRole('button', { name: 'Add colour patches…' }).click()
    const dialog = page.getByRole('dialog', { name: 'Add colour patches' })
    const path = testInfo.outputPath('patches.txt')
    await writeFile(path, PATCHES)
    const chooser = page.waitForEvent('filechooser')
    await dialog.getByRole('button', { name: 'Choose a CGATS or CSV file…' }).click()
    await (await chooser).setFiles(path)
    await expect(dialog.getByText('8 rows read.')).toBeVisible()
    // What no file says for certain is asked, never guessed.
    await expect(dialog.getByRole('button', { name: 'Store 8 rows' })).toBeDisabled()
    await dialog.getByRole('button', { name: /Scale of the colours/ }).click()
    await page.getByRole('option', { name: 'XYZ in cd/m²' }).click()
    await dialog.getByRole('button', { name: 'Store 8 rows' }).click()
    await expect(dialog).toBeHidden()
    await expect(colour.getByText('Complete')).toBeVisible()
    await expect(colour.getByRole('table', { name: 'Figures of colour' })).toContainText('sRGB covered in u′v′')
    await expect(colour.getByRole('img', { name: /CIE 1976 u′, v′ diagram/ })).toBeVisible()

    const uniformity = page.getByRole('region', { name: 'Uniformity', exact: true })
    await uniformity.getByRole('button', { name: 'Add uniformity…' }).click()
    const typed = page.getByRole('dialog', { name: 'Add uniformity' })
    await typed.getByLabel(/^Rows/).fill('180\n190\n185\n188\n200\n192\n176\n189')
    await expect(typed.getByRole('status')).toContainText('8 rows, and it takes 9 or 25')
    await typed.getByLabel(/^Rows/).fill('180\n190\n185\n188\n200\n192\n176\n189\n182')
    await typed.getByRole('button', { name: 'Store 9 rows' }).click()
    // 176 over 200.
    await expect(uniformity.getByRole('row', { name: /Darkest over brightest/ })).toContainText('88.0 %')
    await expect(page.getByText(/2 of 8 quantities are complete/)).toBeVisible()

    await page.getByRole('button', { name: /^Leave out Uniformity/ }).click()
    await expect(page.getByText(/1 of 8 quantities are complete/)).toBeVisible()
    await page.getByRole('button', { name: /^Restore Uniformity/ }).click()
    await expect(page.getByText(/2 of 8 quantities are complete/)).toBeVisible()
    expect(host.problems).toEqual([])
  })
})

test('input latency is measured on the rig and becomes figures of the record', async ({ host, page }) => {
  await resize(host, 1024, 700)
  await createCampaign(page, 'Invented campaign')
  await openRecord(page)
  const latency = page.getByRole('region', { name: 'Input latency', exact: true })
  await latency.getByRole('button', { name: 'Measure input latency…' }).click()
  const form = page.getByRole('dialog', { name: 'Measure input latency' })
  await form.getByLabel(/^Events/).fill('4')
  await form.getByLabel(/^Refresh/).fill('240')
  await form.getByText('Both in turn', { exact: true }).click()
  await page.screenshot({ path: test.info().outputPath('latency-form.png') })
  await form.getByRole('button', { name: 'Start' }).click()
  await acknowledge(page)
  await expect(form).toBeHidden()
  await expect(latency.getByRole('progressbar', { name: 'Input latency' })).toBeVisible()
  await expect(latency.getByText(/Now the reference/)).toBeVisible()
  await page.screenshot({ path: test.info().outputPath('latency-asks.png') })
  await latency.getByRole('button', { name: 'Go on' }).click()
  await expect(latency.getByText(/Back to the display/)).toBeVisible()
  await latency.getByRole('button', { name: 'Go on' }).click()
  await expect(latency.getByText('4 of at least 100 events.')).toBeVisible()
  await expect(latency.getByRole('row', { name: /Drift, last run on the display/ })).toBeVisible()
  await expect(latency.getByRole('row', { name: /Event to light, mean/ })).toContainText('4 events at 240 Hz')
  await expect(latency.getByRole('img')).toBeVisible()
  await page.screenshot({ path: test.info().outputPath('latency-measured.png') })
  await expectWhole(host)
  expect(host.problems).toEqual([])
})

test('the demo library has a complete record, and nothing of it is cut off', async ({ host, page }) => {
  await resize(host, 1440, 900)
  await page.getByRole('button', { name: 'Open the demo library' }).first().click()
  await expect(page.getByRole('note').filter({ hasText: 'invented' })).toBeVisible({ timeout: 120_000 })
  await openRecord(page)
  await expect(page.getByText('The record is complete.')).toBeVisible()
  await expect(page.getByRole('row', { name: /Signal delay with response to 50 %/ })).toContainText(
    /4\.\d+ ± 0\.\d+ ms|5\.\d+ ± 0\.\d+ ms/,
  )
  await expectWhole(host)
})
