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

test('a screen chosen while the server has not answered yet stays the one in view', async ({ page }) => {
  await benchReady(page)
  let answer = (): void => {}
  const mayAnswer = new Promise<void>((resolve) => (answer = resolve))
  await page.route('**/session', async (route) => {
    await mayAnswer
    await route.continue()
  })
  const asked = page.waitForRequest('**/session')
  // A spent token, as a tab opened again brings it; the secret of before is taken once the server has refused it.
  await page.evaluate("history.replaceState(null, '', '#token=spent'); location.reload()")
  await asked
  await page.evaluate("location.hash = '#/recipes'")
  answer()
  await expect(page.getByRole('link', { name: 'Recipes' })).toHaveAttribute('aria-current', 'page')
  await expect(page.getByRole('heading', { level: 1 })).toBeVisible()
  expect(new URL(page.url()).hash).toBe('#/recipes')
})
