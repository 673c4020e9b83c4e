import { expect, test } from './fixtures.ts'
import { createCampaign, fillPlan, startSweep, sweepState } from './operator.ts'

test('comes back with everything after the host was killed in mid-sweep', async ({ host }) => {
  await createCampaign(host.page, 'Invented campaign')
  await fillPlan(host.page, { Levels: '0, 128, 255', Repeats: '4' })
  await startSweep(host.page)
  await sweepState(host.page, /([4-9]|1\d) \/ 24/)
  const again = await host.restart()
  await sweepState(again.page, /Paused/i)
  await again.page.getByRole('button', { name: /^Resume/ }).click()
  const warning = again.page.getByRole('alertdialog')
  await warning.getByText('I have read this').click()
  await warning.getByRole('button', { name: 'Acknowledge and start' }).click()
  await sweepState(again.page, /24 \/ 24/)
  await expect(again.page.getByRole('grid')).toBeVisible()
})

test('the first sweep on the simulated rig needs nothing but the warning read', async ({ page }) => {
  await fillPlan(page, { Levels: '0, 255', Repeats: '1' })
  await startSweep(page)
  await sweepState(page, /2 \/ 2/)
  await expect(page.getByRole('button', { name: /Campaign in view$/ })).toContainText('Simulated bench')
  await expect(page.getByRole('region', { name: 'Progress' }).getByText('simulated', { exact: true })).toBeVisible()
})
