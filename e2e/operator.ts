/** What an operator does, step by step, on whichever page the application runs in. */
import { expect, type Page } from 'playwright/test'

export async function createCampaign(page: Page, name: string): Promise<void> {
  await page.getByRole('button', { name: 'New campaign' }).click()
  const dialog = page.getByRole('dialog', { name: 'New campaign' })
  await dialog.getByLabel('Name').fill(name)
  await dialog.getByLabel('Display').fill('Invented display')
  await dialog.getByRole('button', { name: 'Create campaign' }).click()
  await expect(dialog).toBeHidden()
}

/** Fills fields of the plan by their labels. */
export async function fillPlan(page: Page, fields: Readonly<Record<string, string>>): Promise<void> {
  const setUp = page.getByRole('complementary', { name: 'Set-up' })
  for (const [label, value] of Object.entries(fields)) {
    const field = setUp.getByRole('textbox', { name: new RegExp(`^${label}(?![a-z])`) })
    await field.fill(value)
    await field.blur()
  }
}

/** Presses start and, the first time, reads and acknowledges the warning. */
export async function startSweep(page: Page): Promise<void> {
  await page.getByRole('region', { name: 'Progress' }).getByRole('button', { name: 'Start sweep' }).click()
  const warning = page.getByRole('alertdialog')
  await expect(warning).toBeVisible()
  await expect(warning).toContainText('seizures')
  await warning.getByText('I have read this').click()
  await warning.getByRole('button', { name: 'Acknowledge and start' }).click()
  await expect(warning).toBeHidden()
}

export async function sweepState(page: Page, state: RegExp, timeout: number): Promise<void> {
  await expect(page.getByRole('region', { name: 'Progress' })).toContainText(state, { timeout })
}
