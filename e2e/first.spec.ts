import { readFileSync } from 'node:fs'
import { expect, test } from './fixtures.ts'

const axeSource = readFileSync(require.resolve('axe-core/axe.min.js'), 'utf8')

interface Violation {
  readonly id: string
  readonly help: string
  readonly nodes: readonly { readonly target: unknown }[]
}

test('opens with the simulated rig connected, without complaint, and readable for everybody', async ({
  host,
  page,
}) => {
  await expect(page).toHaveTitle(/Slewlight/)
  await expect(page.getByText(/connected|ready/i).first()).toBeVisible()
  // The policy of the page lets no foreign script in; the test's own goes around it.
  const violations = await page.evaluate<Violation[]>(`${axeSource}; axe.run().then((found) => found.violations)`)
  expect(violations.map(({ id, help, nodes }) => ({ id, help, at: nodes.map(({ target }) => target) }))).toEqual([])
  expect(host.problems).toEqual([])
})
