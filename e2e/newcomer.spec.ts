/** The first minute of a newcomer, each action counted: a click, or a key that does something. */
import type { Locator } from 'playwright/test'
import { resize } from './accessibility.ts'
import { expect, test, type Page } from './fixtures.ts'
import { benchReady, planOf, progressOf, sweepState } from './operator.ts'

const headlineOf = (page: Page) => page.getByRole('region', { name: /^Result of sweep \d+$/ })
const chosenOf = (page: Page) => page.getByRole('region', { name: 'Chosen transition' })
const demoBanner = (page: Page) =>
  page.getByRole('note').filter({ hasText: 'every display and number here is invented' })

/** Counts what a person does. By keyboard, going to a control with Tab and pressing a key on it is one action. */
function counted(page: Page, by: 'mouse' | 'keyboard') {
  let actions = 0
  return {
    get actions() {
      return actions
    },
    /** A button or switch is used. */
    async use(control: Locator, key = 'Enter'): Promise<void> {
      actions += 1
      if (by === 'mouse') return control.click()
      const focused = control.and(page.locator(':focus'))
      for (let presses = 0; presses < 60 && (await focused.count()) === 0; presses += 1)
        // One press after the other is the point of this loop.
        // oxlint-disable-next-line no-await-in-loop
        await page.keyboard.press('Tab')
      await expect(control).toBeFocused()
      await page.keyboard.press(key)
    },
    /** A single key does it from anywhere on the screen. */
    async press(key: string): Promise<void> {
      actions += 1
      await page.keyboard.press(key)
    },
  }
}

for (const by of ['mouse', 'keyboard'] as const) {
  test(`by ${by}: demo library, headline, worst cell, its trace, and back, in at most six actions`, async ({
    host,
    page,
  }) => {
    await benchReady(page)
    const hand = counted(page, by)
    await hand.use(page.getByRole('button', { name: 'Open the demo library' }).first())
    await expect(demoBanner(page)).toBeVisible({ timeout: 150_000 })
    const headline = headlineOf(page)
    await expect(headline.getByText('Worst duration')).toBeVisible()
    await expect(headline).toContainText(/Mean duration[\d.]+ ms ± [\d.]+/)

    await hand.use(headline.getByRole('button', { name: /worst duration$/ }))
    const heading = chosenOf(page).getByRole('heading', { level: 2 })
    await expect(heading).toHaveText(/^\d+ → \d+$/)
    const cell = (await heading.textContent()) ?? ''
    await expect(headline.getByRole('button', { name: `Show ${cell}, worst duration` })).toBeVisible()
    await expect(
      page.getByRole('img', { name: new RegExp(`^Trace of ${cell}: volts over ms from onset`) }),
    ).toBeVisible()

    // What its uncertainty is made of is one action away, and in sight in a small window.
    await resize(host, 1024, 700)
    const tab = (name: string) => chosenOf(page).getByRole('tab', { name })
    if (by === 'mouse') await hand.use(tab('Uncertainty'))
    else await hand.use(tab('Captures'), 'ArrowRight')
    const causes = page.getByRole('table', { name: 'What the uncertainty is made of, largest first' })
    await expect(causes.getByRole('row').nth(1)).toBeInViewport({ ratio: 1 })

    if (by === 'mouse') await hand.use(chosenOf(page).getByRole('button', { name: 'Back to the sweep' }))
    else await hand.press('l')
    await expect(chosenOf(page)).toHaveCount(0)
    await expect(headline).toBeVisible()
    expect(hand.actions).toBeLessThanOrEqual(6)

    // While none is chosen the worst stand beside the matrix, each a click away.
    const first = page.getByRole('region', { name: 'Worst transitions' }).getByRole('button').first()
    await expect(first).toHaveAccessibleName(new RegExp(`^Open ${cell}: `))
    await first.click()
    await expect(heading).toHaveText(cell)
    expect(host.problems.filter((text) => !/WebSocket|connection/i.test(text))).toEqual([])
  })

  test(`by ${by}: a sweep from nothing in at most eight actions`, async ({ host, page }) => {
    await benchReady(page)
    await expect(planOf(page).getByRole('status', { name: 'What this plan costs' })).toContainText(/Captures\s*\d/)
    const hand = counted(page, by)
    const warning = page.getByRole('alertdialog', { name: /Flashing light/ })
    if (by === 'mouse') await hand.use(planOf(page).getByRole('button', { name: 'Start sweep' }))
    else await hand.press('r')
    await expect(warning).toContainText('seizures')
    if (by === 'mouse') await hand.use(warning.getByText('I have read this'))
    else await hand.use(warning.getByRole('checkbox'), 'Space')
    await hand.use(warning.getByRole('button', { name: 'Acknowledge and start' }))
    await expect(warning).toBeHidden()
    // Captures come in, and the headline with them.
    await expect(progressOf(page).getByText(/^[1-9]\d* \/ \d+$/)).toBeVisible()
    await expect(headlineOf(page)).toContainText(/Mean duration[\d.]+ ms/)
    if (by === 'mouse') await hand.use(progressOf(page).getByRole('button', { name: 'Stop' }))
    else await hand.press('s')
    await sweepState(page, /stopped/)
    expect(hand.actions).toBeLessThanOrEqual(8)
    expect(host.problems).toEqual([])
  })
}
