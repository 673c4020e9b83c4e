import { expect, test } from './fixtures.ts'
import { setUp } from './operator.ts'

test('a page on the display under test attaches, says so, and is missed when it goes', async ({ host, page }) => {
  await setUp(page)
  await page.getByRole('radio', { name: 'A real screen' }).click({ force: true })
  const card = page.getByRole('region', { name: 'Stimulus' })
  await expect(card.getByText('Not open')).toBeVisible()
  const stimulus = await host.openStimulus()
  await expect(stimulus.getByRole('status')).toContainText('Ready.')
  await expect(stimulus.getByText('can trigger seizures')).toBeVisible()
  await expect(card.getByText('Not open')).toBeHidden()
  await stimulus.close()
  await expect(card.getByText('Not open')).toBeVisible()
  expect(host.problems).toEqual([])
})
