/** A sweep at 1 MS/s on the simulated rig, in a window of the size that the figures of the screens are for. */
import type { Page } from 'playwright/test'
import { expect } from './fixtures.ts'
import { createCampaign, fillPlan, startSweep, sweepState } from './operator.ts'

/** Starts one that outlasts so many minutes, and waits for its first captures. */
export async function startRecording(page: Page, minutes: number): Promise<void> {
  await page.setViewportSize({ width: 1440, height: 900 })
  await createCampaign(page, 'Invented display F')
  // 30 transitions a repeat, 0.35 s each.
  const repeats = Math.ceil((minutes * 60 + 150) / (30 * 0.35))
  await page.getByRole('button', { name: /^Digitizer/ }).click()
  await fillPlan(page, { 'Sample rate': '1000', Repeats: String(repeats) })
  await startSweep(page)
  await sweepState(page, /[1-9]\d* \//)
}

/** Ends it, if it still recorded until now. */
export async function endRecording(page: Page): Promise<void> {
  await expect(page.getByRole('region', { name: 'Progress' })).toContainText('running')
  await page.getByRole('button', { name: 'Stop' }).first().click()
}
