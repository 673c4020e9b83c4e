/** What an operator does, step by step, on whichever page the application runs in. */
import { expect, type Locator, type Page } from 'playwright/test'

export const planOf = (page: Page) => page.getByRole('region', { name: 'Plan of the next sweep' })
export const progressOf = (page: Page) => page.getByRole('region', { name: 'Progress' })

/** The simulated rig is connected and the Bench knows what the archive holds. */
export async function benchReady(page: Page): Promise<void> {
  await expect(page.getByRole('group', { name: 'Status' })).toContainText(/● Simulated/)
  await page.getByRole('button', { name: /^(Start|Plan next) sweep$/ }).waitFor()
}

/** Opens rig and stimulus, or closes them. */
export async function setUp(page: Page): Promise<void> {
  await page
    .getByRole('group', { name: 'Status' })
    .getByRole('button', { name: /^Stimulus/ })
    .click()
}

async function toPlan(page: Page): Promise<void> {
  await benchReady(page)
  const next = page.getByRole('button', { name: 'Plan next sweep' })
  if (await next.isVisible()) await next.click()
}

export async function createCampaign(page: Page, name: string): Promise<void> {
  await toPlan(page)
  await page.getByRole('button', { name: 'New campaign' }).click()
  const dialog = page.getByRole('dialog', { name: 'New campaign' })
  await dialog.getByLabel('Name').fill(name)
  await dialog.getByLabel('Display').fill('Invented display')
  await dialog.getByRole('button', { name: 'Create campaign' }).click()
  await expect(dialog).toBeHidden()
}

/** The same on the Campaign screen; answers with the plan of its run. */
export async function createForRun(page: Page): Promise<Locator> {
  await page.getByRole('button', { name: 'New campaign…' }).click()
  const dialog = page.getByRole('dialog', { name: 'New campaign' })
  await dialog.getByLabel('Name').fill('Gentle against Strong')
  await dialog.getByLabel('Display').fill('Invented display')
  await page.keyboard.press('Enter')
  await expect(dialog).toBeHidden()
  return page.getByRole('region', { name: 'Plan' })
}

/** Fills fields of the plan by their labels; the simulated display's settings are chosen from a list. */
export async function fillPlan(page: Page, fields: Readonly<Record<string, string>>): Promise<void> {
  await toPlan(page)
  const plan = planOf(page)
  for (const [label, value] of Object.entries(fields)) {
    const list = plan.getByRole('button', { name: new RegExp(`${label}$`) })
    // One field after the other, as a person does.
    // oxlint-disable no-await-in-loop
    if (label === 'Setting' && (await list.count()) > 0) {
      await list.click()
      await page.getByRole('option', { name: value, exact: true }).click()
    } else {
      const field = plan.getByRole('textbox', { name: new RegExp(`^${label}(?![a-z])`) })
      await field.fill(value)
      await field.blur()
    }
    // oxlint-enable no-await-in-loop
  }
}

export async function acknowledge(page: Page): Promise<void> {
  const warning = page.getByRole('alertdialog', { name: /Flashing light/ })
  await expect(warning).toContainText('seizures')
  await expect(warning.getByRole('button', { name: 'Acknowledge and start' })).toBeDisabled()
  await warning.getByText('I have read this').click()
  await warning.getByRole('button', { name: 'Acknowledge and start' }).click()
  await expect(warning).toBeHidden()
}

/** Presses start and, the first time, reads and acknowledges the warning. */
export async function startSweep(page: Page): Promise<void> {
  await planOf(page).getByRole('button', { name: 'Start sweep' }).click()
  await acknowledge(page)
}

export async function sweepState(page: Page, state: RegExp): Promise<void> {
  await expect(progressOf(page)).toContainText(state, { timeout: 180_000 })
}
