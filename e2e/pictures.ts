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
