/** Every screen and each state worth its own look: readable for everybody, in both themes, large and small. */
import type { Locator } from 'playwright/test'
import { cutOff, resize, setTheme, sideways, unreachable, violations } from './accessibility.ts'
import { expect, test, type Host, type Page } from './fixtures.ts'
import { benchReady, setUp } from './operator.ts'
import { dropFiles, PDF, recording, saved } from './recordings.ts'

const LARGE = [1440, 900] as const
const SMALL = [1024, 700] as const

type Size = typeof LARGE | typeof SMALL

/** Looks at the page as it stands at both sizes, in the theme it has. */
async function lookAtSizes(
  host: Host,
  state: string,
  needed: readonly Locator[],
  sizes: readonly Size[] = [LARGE, SMALL],
): Promise<void> {
  const { page } = host
  for (const [width, height] of sizes) {
    // One look after the other: they change the same page.
    // oxlint-disable no-await-in-loop
    await resize(host, width, height)
    const where = `${state} at ${width} × ${height}, ${await page.locator('html').getAttribute('data-theme')}`
    expect.soft(await violations(page), where).toEqual([])
    if (width === SMALL[0]) {
      expect.soft(await cutOff(page), where).toEqual([])
      for (const control of needed) await expect.soft(control, where).toBeInViewport({ ratio: 1 })
    }
    // oxlint-enable no-await-in-loop
  }
}

/** Looks at the page at both sizes and in both themes; `needed` is what must be in sight without scrolling. */
async function look(host: Host, state: string, needed: readonly Locator[], sizes?: readonly Size[]): Promise<void> {
  const bar = ['Bench', 'Campaign', 'Findings', 'Traces', 'Recipes', 'Light', 'Record', 'Import'].map((name) =>
    host.page.getByRole('navigation', { name: 'Screens' }).getByRole('link', { name, exact: true }),
  )
  for (const theme of ['dark', 'light'] as const) {
    // oxlint-disable no-await-in-loop
    await setTheme(host.page, theme)
    await lookAtSizes(host, state, [...bar, ...needed], sizes)
    // oxlint-enable no-await-in-loop
  }
}

/** Looks at a dialog, which keeps the page behind it, and so the choice of a theme, out of reach. */
async function lookAtDialog(host: Host, state: string, open: Locator, close: string, needed: string): Promise<void> {
  const { page } = host
  const dialog = page.getByRole('dialog').or(page.getByRole('alertdialog'))
  for (const theme of ['dark', 'light'] as const) {
    // oxlint-disable no-await-in-loop
    await setTheme(page, theme)
    await open.click()
    await expect(dialog).toBeVisible()
    await lookAtSizes(host, state, [dialog, dialog.getByRole('button', { name: needed })])
    await dialog.getByRole('button', { name: close }).click()
    await expect(dialog).toBeHidden()
    // oxlint-enable no-await-in-loop
  }
}

const open = async (page: Page, screen: string): Promise<void> =>
  page.getByRole('navigation', { name: 'Screens' }).getByRole('link', { name: screen, exact: true }).click()

test('an empty archive: every screen, the dialogs, and recordings to be imported', async ({ host, page }, testInfo) => {
  const button = (name: string | RegExp) => page.getByRole('button', { name })
  await benchReady(page)
  const start = button('Start sweep')
  await look(host, 'Bench, the plan', [start, button('Check now'), button('White')])
  await button('Check now').click()
  await expect(page.getByRole('status', { name: 'Outcome of the list' })).toBeVisible()
  await button('White').click()
  await expect(page.getByRole('status', { name: 'Mean of the light' })).toContainText('% of 5 V')
  await look(host, 'Bench, aiming', [start, button('Check again')])
  await page.getByText('Monitor', { exact: true }).click()
  await setUp(page)
  await look(host, 'Bench, rig and stimulus', [button('Disconnect')])
  await page.keyboard.press('Escape')
  await lookAtDialog(host, 'Help', button(/^Help$/), 'Close', 'Close')
  await lookAtDialog(host, 'New campaign', button('New campaign'), 'Cancel', 'Create campaign')
  await lookAtDialog(host, 'Flash warning', start, 'Cancel', 'Acknowledge and start')

  await open(page, 'Traces')
  await expect(page.getByText('The archive holds no captures yet.')).toBeVisible()
  await look(host, 'Traces, empty', [button(/Order by/)])

  await open(page, 'Recipes')
  await expect(page.getByText('No trace to try it on')).toBeVisible()
  await look(host, 'Recipes, no trace', [button('Export'), page.getByRole('tab', { name: 'Sample' })])

  await open(page, 'Record')
  await expect(page.getByText('No campaign yet')).toBeVisible()
  await look(host, 'Record, empty', [button('Open the demo library')])

  await open(page, 'Import')
  await look(host, 'Import, empty', [button('Choose files…'), button(/^Import recordings/)])
  const files = [
    recording('panel_0-128_r1.csv', 0, 128),
    recording('panel_128-0_r1.csv', 128, 0),
    recording('one-column_255-0.csv', 255, 0, { timeColumn: false }),
    recording('nameless.csv', 128, 255),
    PDF,
  ]
  await dropFiles(page.locator('.recordings'), await saved(testInfo.outputPath('recordings'), files))
  await expect(page.getByText('5 files, 2 ready, 3 need attention')).toBeVisible()
  const recordings = page.getByRole('listbox', { name: 'Recordings to import' })
  await recordings.getByRole('option', { name: /^panel_128-0/ }).click()
  await expect(page.getByRole('img', { name: /^Trace of panel_128-0/ })).toBeVisible()
  await look(host, 'Import, a good recording', [button(/^Import \d/)])
  await recordings.getByRole('option', { name: /^one-column/ }).click()
  const chosen = page.getByRole('tabpanel', { name: 'Chosen recording' })
  await expect(chosen.getByText(/There is no time column/)).toBeVisible()
  await look(host, 'Import, a recording with a problem', [page.getByLabel('Sample interval, µs')])
  expect(host.problems).toEqual([])
})

test.describe('an archive with captures', () => {
  test.use({ planted: 500 })

  test('recipes on an example, a sample, and compared; a stored capture on the Bench; the trace desk with everything shown', async ({
    host,
    page,
  }) => {
    const tab = (name: string | RegExp) => page.getByRole('tab', { name })
    const button = (name: string) => page.getByRole('button', { name })
    await resize(host, ...LARGE)
    await open(page, 'Recipes')
    const numbers = page.getByRole('table', { name: 'Numbers of the example' })
    // Not every capture of the archive is measured under the recipe in use yet.
    await tab('Apply and compare').click()
    await page.getByRole('button', { name: /Apply to$/ }).click()
    await page.getByRole('option', { name: 'Whole archive' }).click()
    await button('Apply to all captures').click()
    const done = page.getByRole('progressbar', { name: /^Measuring under/ })
    await expect(done).toHaveAttribute('aria-valuenow', '100')
    await tab('Example').click()
    const slider = page.getByRole('slider', { name: 'Lower reference' })
    await slider.focus()
    for (let i = 0; i < 5; i++) await page.keyboard.press('ArrowLeft')
    await expect(numbers).toContainText(/Transition duration\s*\d+\.\d+ ms\s*\d+\.\d+ ms\s*\+/)
    await look(host, 'Recipes, an edited one on its example', [button('Save as new recipe'), tab('Example')])

    await tab('Sample').click()
    await button('Measure a sample').click()
    await expect(page.getByRole('table', { name: 'Means over the sample' })).toBeVisible()

    await look(host, 'Recipes, sample', [button('Measure a sample'), tab('Sample')])

    await button('Save as new recipe').click()
    await tab('Apply and compare').click()
    await button('Apply to all captures').click()
    await expect(done.last()).toHaveAttribute('aria-valuenow', '100')
    await expect(page.getByRole('table', { name: 'Transitions that changed most' })).toBeVisible()

    await look(host, 'Recipes, compared', [button('Apply to all captures'), tab('Apply and compare')])

    await resize(host, ...LARGE)
    await open(page, 'Bench')
    const grid = page.getByRole('grid', { name: /^Transition duration/ })
    await expect(grid.getByRole('gridcell', { name: /: \d+\.\d+ ms/ }).first()).toBeVisible()
    await look(host, 'Bench, a sweep', [button('Plan next sweep'), button('Export…')])
    await resize(host, ...LARGE)
    await grid
      .getByRole('gridcell', { name: /: \d+\.\d+ ms/ })
      .first()
      .click()
    await expect(page.getByRole('heading', { name: /^Capture \d+$/ })).toBeVisible()

    await look(host, 'Bench, a stored capture', [button('Plan next sweep'), button('Back to the sweep')])

    await resize(host, ...LARGE)
    await page.evaluate("location.hash = '#/traces?flag=differs-from-repeats&sort=transition_duration_s&order=down'")
    await expect(page.getByRole('grid', { name: /^Captures, [1-9]/ })).toBeVisible()
    const heading = page.getByRole('heading', { name: /^Capture \d+$/ })
    for (const key of ['l', 'ArrowDown']) await page.keyboard.press(key)
    await expect(heading).toBeVisible()
    for (const key of ['c', 'o', 'd', 'b', 'x', 'w']) await page.keyboard.press(key)
    await expect(page.getByText('Spectrum, mV over Hz')).toBeVisible()
    await expect(page.getByText(/^Marks, ms from/)).toBeVisible()
    const plot = page.getByRole('application', { name: /^Trace of capture/ })

    await look(host, 'Traces, everything shown', [plot, page.getByRole('slider', { name: 'Cursor A' })])
    // The large page has room for flags, review and numbers at once, and was seen with them.
    await resize(host, ...SMALL)
    for (const name of [/^Flags/, /^Review/, /^Numbers/]) {
      await tab(name).click()
      await look(host, `Traces, panel ${name.source}`, [tab(name)], [SMALL])
    }
    await tab(/^History/).click()
    await look(host, 'Traces, history', [tab(/^History/)])
    expect(host.problems).toEqual([])
  })
})

test.describe('the demo library', () => {
  test.use({ hostArgs: ['--demo'] })

  test('campaign, findings, light and record with data; at 200 % zoom every screen can be reached without scrolling sideways', async ({
    host,
    page,
  }) => {
    await expect(page.getByRole('region', { name: /^Result of sweep/ })).toBeVisible()
    const shown = {
      Bench: page.getByRole('grid', { name: /^Transition duration/ }),
      Campaign: page.getByRole('region', { name: 'Plan' }),
      Findings: page.getByRole('region', { name: 'Answer' }),
      Light: page.getByRole('table', { name: 'All readings' }),
      Record: page.getByText('The record is complete.'),
      Traces: page.getByRole('grid', { name: /^Captures, / }),
      Recipes: page.getByRole('slider', { name: 'Lower reference' }),
      Import: page.getByText('Drop oscilloscope CSV files here'),
    } as const
    for (const [screen, content] of Object.entries(shown)) {
      // oxlint-disable no-await-in-loop
      await resize(host, ...LARGE)
      await open(page, screen)
      await expect(content).toBeVisible()
      if (['Campaign', 'Findings', 'Light', 'Record'].includes(screen)) await look(host, `${screen}, demo library`, [])
      if (screen === 'Traces') {
        await page.keyboard.press('n')
        await expect(page.getByRole('heading', { name: /^Capture \d+$/ })).toBeVisible()
      }
      // 1440 × 900 at 200 %.
      await resize(host, 720, 450)
      expect.soft(await sideways(page), `${screen} at 200 %`).toEqual([])
      expect.soft(await unreachable(page), `${screen} at 200 %`).toEqual([])
      // oxlint-enable no-await-in-loop
    }
    expect(host.problems).toEqual([])
  })
})
