import { expect, test } from './fixtures.ts'

test('opens with the simulated rig connected and without complaint', async ({ host, page }) => {
  await expect(page).toHaveTitle(/Slewlight/)
  await expect(page.getByText(/connected|ready/i).first()).toBeVisible()
  expect(host.problems).toEqual([])
})
