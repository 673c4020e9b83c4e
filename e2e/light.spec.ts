/** The Light screen: readings of a stored capture's steady light, and of a recording that is not stored. */
import { writeFile } from 'node:fs/promises'
import { expectWhole, resize } from './accessibility.ts'
import { expect, test, type Page } from './fixtures.ts'

test.use({ planted: 500 })

const figures = (page: Page) => page.locator('.light-figures')

/** Light of 2 V on and 0.5 V off, 240 times a second, on for 40 % of the time: closed forms below. */
function pulses(rate = 24_000, seconds = 1): string {
  const rows = ['Time (ms),CH1 (V)']
  for (let i = 0; i < rate * seconds; i += 1) rows.push(`${(1000 * i) / rate},${i % 100 < 40 ? 2 : 0.5}`)
  return rows.join('\n')
}

async function openLight(page: Page): Promise<void> {
  await page.getByRole('link', { name: 'Light', exact: true }).click()
  await expect(page.getByRole('complementary', { name: 'Which light' })).toBeVisible()
}

test('a recording is read by mouse: flicker by its closed forms, its waveform, spectrum and context', async ({
  host,
  page,
}, testInfo) => {
  const path = testInfo.outputPath('pulses_240Hz.csv')
  await writeFile(path, pulses())
  await resize(host, 1440, 900)
  await openLight(page)
  await page.getByRole('radio', { name: 'Recording' }).click()
  await expect(page.getByText('No recording chosen')).toBeVisible()
  const chooser = page.waitForEvent('filechooser')
  await page.getByRole('button', { name: 'Choose a CSV file…' }).click()
  await (await chooser).setFiles(path)
  // (2 − 0.5)/(2 + 0.5) = 60 %. Mean 0.4·2 + 0.6·0.5 = 1.1; area above it 0.4·0.9 of 1.1 = 0.327.
  await expect(figures(page)).toContainText('60.0 %')
  await expect(figures(page)).toContainText('0.327')
  await expect(figures(page)).toContainText('240.00 Hz')
  await expect(figures(page)).toContainText(/PstLM.*[Nn]eeds 60 s/)
  const table = page.getByRole('table', { name: 'All readings' })
  await expect(table.getByRole('row', { name: /^Duty 40\.\d %/ })).toBeVisible()
  const lines = page.getByRole('list', { name: 'Strongest components' })
  // A rectangle's components: 2·1.5/(π·k)·sin(0.4·π·k) ÷ 1.1, 82.6 % and 25.5 % for k = 1, 2; none at k = 5.
  await expect(lines).toContainText(/240\.0 Hz\s*82\.\d %\s*fundamental/)
  await expect(lines).toContainText(/480\.0 Hz\s*25\.\d %\s*× 2/)
  await expect(lines).not.toContainText('1200 Hz')
  await expect(page.getByText('context, no verdict')).toBeVisible()
  await expect(page.getByRole('img', { name: /strongest component 82\.\d % at 240\.0 Hz/ })).toBeVisible()
  await page.getByRole('button', { name: /^Definition of Percent flicker/ }).click()
  await expect(page.getByRole('dialog', { name: /^Definition of Percent flicker/ })).toContainText(
    '100·(max − min)/(max + min)',
  )
  await page.keyboard.press('Escape')

  // A dark level of 500 mV takes the light between the pulses away.
  await page.getByLabel('Dark level, mV').fill('500')
  await expect(figures(page)).toContainText('100 %')
  await page.getByLabel('Dark level, mV').fill('half')
  await expect(page.getByText('A number of millivolts, or nothing.')).toBeVisible()
  expect(host.problems).toEqual([])
})

test('a capture’s steady light is read by keyboard alone, named, and nothing is cut off', async ({ host, page }) => {
  await resize(host, 1440, 900)
  await page.getByRole('link', { name: 'Light', exact: true }).focus()
  await page.keyboard.press('Enter')
  // The first capture of the sweep's highest level is measured without asking.
  await expect(figures(page)).toBeVisible()
  const caption = page.locator('.light-head .trace-caption')
  await expect(caption).toContainText(/ Hz · \d+ → 255 · repeat \d/)
  await expect(page.getByRole('table', { name: 'All readings' })).toContainText(/Mean light\s*[\d.]+ V/)
  const level = page.getByRole('button', { name: /At level/ })
  await level.focus()
  await page.keyboard.press('Enter')
  await page.keyboard.type('102')
  await page.keyboard.press('Enter')
  await expect(caption).toContainText(/ → 102 /)
  // One press puts it on the display's record; a second would say that it is there already.
  const store = page.getByRole('region', { name: 'On the record' })
  await store.getByRole('button', { name: 'Store these readings', exact: true }).click()
  await expect(store.getByRole('status')).toContainText(/On the record of .+: \d+ readings?, centre, level 102/)
  await expect(store.getByRole('button', { name: 'Store these readings again' })).toBeVisible()
  await store.getByRole('button', { name: 'Undo storing' }).click()
  await expect(store.getByRole('button', { name: 'Store these readings', exact: true })).toBeVisible()
  await expectWhole(host)
  expect(host.problems).toEqual([])
})
