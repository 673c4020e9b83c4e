import { violations } from './accessibility.ts'
import { expect, test, type Page } from './fixtures.ts'

const planOf = (page: Page) => page.getByRole('region', { name: 'Plan of the next sweep' })
const progressOf = (page: Page) => page.getByRole('region', { name: 'Progress' })

async function plan(page: Page, levels: string, repeats: number): Promise<void> {
  await page.getByRole('region', { name: 'Rig' }).getByRole('button', { name: 'Disconnect' }).waitFor()
  await page.getByRole('button', { name: 'New campaign' }).click()
  await page.getByLabel('Name').fill('Invented display, end to end')
  await page.getByRole('button', { name: 'Create campaign' }).click()
  await planOf(page).getByLabel('Setting').fill('Strong')
  await planOf(page).getByLabel('Levels, codes 0–255').fill(levels)
  await planOf(page).getByLabel('Repeats').fill(String(repeats))
}

async function startFirst(page: Page): Promise<void> {
  await planOf(page).getByRole('button', { name: 'Start sweep' }).click()
  const warning = page.getByRole('alertdialog', { name: /Flashing light/ })
  await expect(warning.getByRole('button', { name: 'Acknowledge and start' })).toBeDisabled()
  await warning.getByText('I have read this').click()
  await warning.getByRole('button', { name: 'Acknowledge and start' }).click()
}

test('a first sweep: plan, warning, live trace, matrix, and one capture looked at by keyboard', async ({
  host,
  page,
}) => {
  await plan(page, '0, 128, 255', 1)
  await expect(planOf(page).getByRole('status', { name: 'What this plan costs' })).toContainText(/Captures\s*6/)
  await startFirst(page)
  await expect(progressOf(page).getByText('6 / 6')).toBeVisible({ timeout: 40_000 })
  await expect(progressOf(page).getByText('finished')).toBeVisible()
  await expect(page.getByRole('region', { name: 'Trace' }).getByText('Duration')).toBeVisible()

  const grid = page.getByRole('grid', { name: /Transition duration, ms, sweep 1, Strong at 60 Hz/ })
  await expect(grid.getByRole('gridcell', { name: /^0 → 255: \d+\.\d+ ms, 1 capture/ })).toBeVisible()
  await expect(grid.getByRole('gridcell', { name: /: \d+\.\d+ ms/ })).toHaveCount(6)
  await page.keyboard.press('m')
  await page.keyboard.press('Home')
  await page.keyboard.press('End')
  await expect(grid.getByRole('gridcell', { name: /^0 → 255/ })).toBeFocused()
  await page.keyboard.press('Enter')
  await page.getByRole('button', { name: /Show the trace of capture/ }).click()
  await expect(page.getByRole('heading', { name: /^Capture \d+$/ })).toBeVisible()
  await expect(page.getByRole('img', { name: /^Trace of 0 → 255: volts over ms from onset, duration/ })).toBeVisible()
  await page.getByRole('button', { name: 'Back to live' }).click()
  await expect(page.getByRole('heading', { name: 'Live trace' })).toBeVisible()
  expect(host.problems).toEqual([])
})

test('a sweep can be paused, taken up again and stopped; nothing captured is lost', async ({ host, page }) => {
  await plan(page, '0, 64, 128, 255', 2)
  await startFirst(page)
  const progress = progressOf(page)
  await expect(progress.getByText(/^[2-9] \/ 24$/)).toBeVisible({ timeout: 30_000 })
  await progress.getByRole('button', { name: 'Pause' }).click()
  await expect(progress.getByText('paused', { exact: false }).first()).toBeVisible()
  await expect(progress.getByText('Paused by the operator.')).toBeVisible()
  const held = await progress.getByText(/^\d+ \/ 24$/).textContent()
  await progress.getByRole('button', { name: 'Resume' }).click()
  await expect(progress.getByText(/^\d+ \/ 24$/)).not.toHaveText(held ?? '', { timeout: 20_000 })
  await progress.getByRole('button', { name: 'Stop' }).click()
  await expect(progress.getByText('Stopped by the operator.')).toBeVisible()
  const done = Number.parseInt((await progress.getByText(/^\d+ \/ 24$/).textContent()) ?? '', 10)
  expect(done).toBeGreaterThan(Number.parseInt(held ?? '', 10))
  await expect(page.getByRole('grid').getByRole('gridcell', { name: /: \d+\.\d+ ms/ })).toHaveCount(Math.min(done, 12))
  expect(host.problems).toEqual([])
})

test('a plan that cannot run says why at the field and does not start', async ({ page }) => {
  await plan(page, '0, 300', 1)
  const card = planOf(page)
  await expect(card.getByText('“300” is not a grey-level code from 0 to 255.')).toBeVisible()
  await expect(card.getByRole('button', { name: 'Start sweep' })).toBeDisabled()
  await card.getByLabel('Levels, codes 0–255').fill('0, 255')
  await card.getByRole('button', { name: 'Windows and spacing' }).click()
  await card.getByLabel('After the edge, ms').fill('90')
  await card.getByLabel('Spacing, ms').fill('100')
  await expect(card.getByText(/exceeds three flashes a second/)).toBeVisible()
  await expect(card.getByRole('button', { name: 'Start sweep' })).toBeDisabled()

  await card.getByRole('button', { name: /Lift the limit/ }).click()
  const dialog = page.getByRole('alertdialog', { name: /Lift the flash limit/ })
  await expect(dialog.getByRole('button', { name: 'Lift the limit' })).toBeDisabled()
  await dialog.getByText('Nobody can see the flashing').click()
  await dialog.getByRole('button', { name: 'Lift the limit' }).click()
  await expect(card.getByText('The flash limit is lifted for this plan.')).toBeVisible()
  await expect(card.getByRole('button', { name: 'Start sweep' })).toBeEnabled()
  await page.reload()
  await expect(planOf(page).getByText(/exceeds three flashes a second/)).toBeVisible()
  expect(await violations(page)).toEqual([])
})
