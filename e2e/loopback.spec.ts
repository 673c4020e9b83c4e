import { expect, test } from './fixtures.ts'
import { benchReady } from './operator.ts'

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
  await benchReady(page)
  expect(page.url()).not.toContain('token')
  await page.reload()
  await benchReady(page)
})
