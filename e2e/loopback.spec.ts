import { expect, test, type Page } from './fixtures.ts'

const rigIdentity = (page: Page) => page.getByRole('region', { name: 'Rig' }).getByText('Slewlight Simulated digitizer')

test('turns a page away that does not bring the token, and says what to do', async ({ page, chromiumBrowser }) => {
  const { origin } = new URL(page.url())
  const stranger = await (await chromiumBrowser()).newContext()
  const other = await stranger.newPage()
  await other.goto(origin)
  await expect(
    other.getByText('Open the address that the server printed last; each is good for one browser.'),
  ).toBeVisible()
  await stranger.close()
})

test('takes the token out of the address bar and needs it no more', async ({ page }) => {
  await expect(rigIdentity(page)).toBeVisible()
  expect(page.url()).not.toContain('token')
  await page.reload()
  await expect(rigIdentity(page)).toBeVisible()
})
