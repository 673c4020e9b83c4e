import { readFileSync } from 'node:fs'
import type { Page } from 'playwright/test'

const axeSource = readFileSync(require.resolve('axe-core/axe.min.js'), 'utf8')

/** Rules broken on the page as it stands, with the elements that break them. */
export async function violations(page: Page): Promise<unknown[]> {
  return page.evaluate<unknown[]>(
    `${axeSource}; axe.run().then(({ violations }) => violations.map(({ id, nodes }) => [id, nodes.map((n) => n.html)]))`,
  )
}
