import { expect, test } from './fixtures.ts'
import { benchReady } from './operator.ts'

test('opens with the simulated rig connected and without complaint', async ({ host, page }) => {
  await expect(page).toHaveTitle(/Slewlight/)
  await benchReady(page)
  await expect(page.getByRole('group', { name: 'Status' }).getByText('Simulated, panel Swift')).toBeVisible()
  expect(host.problems).toEqual([])
})
