import { readFileSync } from 'node:fs'
import type { Locator } from 'playwright/test'
import { resize, violations } from './accessibility.ts'
import { expect, test, type Page } from './fixtures.ts'
import { createCampaign, fillPlan, startSweep, sweepState } from './operator.ts'

/** Presses Tab (or Shift+Tab) until the element has the focus, as a person without a mouse does. */
async function tabTo(page: Page, target: Locator, key: 'Tab' | 'Shift+Tab' = 'Tab'): Promise<void> {
  await expect(target).toBeVisible()
  for (let i = 0; i < 120; i++) {
    // oxlint-disable-next-line no-await-in-loop
    if ((await target.and(page.locator(':focus')).count()) > 0) return
    // oxlint-disable-next-line no-await-in-loop
    await page.keyboard.press(key)
  }
  throw new Error('The element cannot be reached by keyboard.')
}

async function press(page: Page, target: Locator, key: 'Tab' | 'Shift+Tab' = 'Tab'): Promise<void> {
  await tabTo(page, target, key)
  await page.keyboard.press('Enter')
}

const parameters = (page: Page) => page.getByRole('region', { name: 'Parameters' })
const numbers = (page: Page) => page.getByRole('table', { name: 'Numbers of the example' })
const badge = (page: Page) => page.getByRole('link', { name: /^Recipe .*used by all screens/ })

/** A finished sweep of six captures of 15,000 samples, and the Recipes screen. */
async function recipesAfterSweep(page: Page): Promise<void> {
  await createCampaign(page, 'Invented display, recipes')
  await fillPlan(page, { Setting: 'Strong', 'Levels, codes 0–255': '0, 128, 255', Repeats: '1' })
  await startSweep(page)
  await sweepState(page, /6 \/ 6/)
  await sweepState(page, /finished/i)
  await press(page, page.getByRole('link', { name: 'Recipes', exact: true }), 'Shift+Tab')
  await expect(numbers(page)).toContainText(/Transition duration\s*\d+\.\d+ ms\s*\d+\.\d+ ms\s*0/)
}

/** Only the first drawing of what belongs to the slider's new place counts; the same may be drawn again. */
const WATCH = `
  window.drawingTimes = []
  window.stopWatching?.()
  const pane = document.querySelector('[aria-label="Example"]')
  const editor = document.querySelector('[aria-label="Parameters"]')
  let pressed = null
  const press = (event) => (pressed = { at: event.timeStamp, recipe: editor.dataset.recipe })
  addEventListener('keydown', press, true)
  const observer = new MutationObserver(() => {
    const { drawn } = pane.dataset
    if (pressed === null || drawn !== editor.dataset.recipe || drawn === pressed.recipe) return
    const { at } = pressed
    pressed = null
    requestAnimationFrame(() => window.drawingTimes.push(performance.now() - at))
  })
  observer.observe(pane, { attributeFilter: ['data-drawn'] })
  window.stopWatching = () => {
    removeEventListener('keydown', press, true)
    observer.disconnect()
  }
  undefined`

/** Moves of the slider whose work is measured. */
const MOVES = 24

/** Times from a key on the slider to the frame in which its markers are drawn, ms; one for each press. */
async function drawingTimes(page: Page, presses: number): Promise<number[]> {
  await page.evaluate(WATCH)
  const read = () => page.evaluate<number[]>('window.drawingTimes')
  for (let i = 0; i < presses; i++) {
    // One press after the other is the point.
    // oxlint-disable-next-line no-await-in-loop
    await page.keyboard.press(i % 2 === 0 ? 'ArrowRight' : 'ArrowLeft')
    // oxlint-disable-next-line no-await-in-loop
    await expect.poll(async () => (await read()).length).toBe(i + 1)
  }
  return read()
}

test('a choice low in the parameters, clicked or reached by keyboard, leaves the application where it is', async ({
  host,
  page,
}) => {
  await resize(host, 1024, 700)
  await page.getByRole('link', { name: 'Recipes', exact: true }).click()
  const fields = parameters(page).getByRole('radio')
  await expect(fields.first()).toBeAttached()
  const bar = page.getByRole('link', { name: 'Bench', exact: true })
  const place = () => bar.boundingBox()
  const before = await place()
  const last = fields.last()
  await last.focus()
  expect(await place()).toEqual(before)
  await last.press('ArrowUp')
  expect(await place()).toEqual(before)
  const low = parameters(page).locator('.radio').last()
  await low.click()
  await expect(low.getByRole('radio')).toBeChecked()
  expect(await place()).toEqual(before)
  expect(await page.evaluate('[document.scrollingElement.scrollTop, document.body.scrollTop]')).toEqual([0, 0])
})

test('by keyboard alone: change a threshold, see numbers move, save, apply, compare, switch, switch back', async ({
  host,
  page,
}) => {
  await page.setViewportSize({ width: 1440, height: 900 })
  await recipesAfterSweep(page)
  await expect(badge(page)).toHaveAccessibleName(
    /^Recipe 10–90 % of luminance \(used by all screens, hash [0-9a-f]{8}\)$/,
  )

  const slider = parameters(page).getByRole('slider', { name: 'Lower reference' })
  await tabTo(page, slider)
  for (let i = 0; i < 10; i++) await page.keyboard.press('ArrowLeft')
  await expect(slider).toHaveAttribute('aria-valuetext', '5 %')
  await expect(numbers(page)).toContainText(/Transition duration\s*\d+\.\d+ ms\s*\d+\.\d+ ms\s*\+\d+\.\d+ ms/)
  await expect(parameters(page).getByText('Unsaved: 1 change')).toBeVisible()
  await expect(parameters(page).getByText('saved: 10 %')).toBeVisible()

  await page.keyboard.press('Control+z')
  await expect(slider).toHaveAttribute('aria-valuetext', '10 %')
  await expect(numbers(page)).toContainText(/Transition duration\s*\d+\.\d+ ms\s*\d+\.\d+ ms\s*0/)
  await page.keyboard.press('Control+Shift+Z')
  await expect(slider).toHaveAttribute('aria-valuetext', '5 %')

  const tabs = page.getByRole('tablist', { name: 'What the recipe does' })
  await tabTo(page, tabs.getByRole('tab', { name: 'Example' }))
  await page.keyboard.press('ArrowRight')
  await press(page, page.getByRole('button', { name: 'Measure a sample' }))
  const sample = page.getByRole('table', { name: 'Means over the sample' })
  await expect(page.getByText('6 of 6 captures')).toBeVisible()
  await expect(sample).toContainText(/Transition duration\s*\d+\.\d+ ms\s*\d+\.\d+ ms\s*\+\d+\.\d+ ± \d+\.\d+ ms\s*6/)

  await expect(page.getByRole('table', { name: 'Transitions that would move most' }).getByRole('row')).not.toHaveCount(
    1,
  )
  await expect(page.getByRole('table', { name: /^Summary of the sample in sweep \d+$/ })).toContainText('Mean')

  const name = parameters(page).getByLabel('Name of the new recipe')
  await tabTo(page, name, 'Shift+Tab')
  await page.keyboard.press('Control+a')
  await page.keyboard.type('5–95 % of luminance')
  await page.keyboard.press('Enter')
  await expect(parameters(page).getByRole('heading', { name: '5–95 % of luminance' })).toBeVisible()
  await expect(parameters(page).getByText(/^Saved, [0-9a-f]{8}$/)).toBeVisible()
  const hash = new URL(page.url()).hash.replace('#/recipes/', '')
  expect(hash).toMatch(/^[0-9a-f]{16}$/)

  await tabTo(page, tabs.getByRole('tab', { selected: true }))
  await page.keyboard.press('End')
  await expect(tabs.getByRole('tab', { name: 'Apply and compare' })).toHaveAttribute('aria-selected', 'true')
  await expect(page.getByText('6 not yet measured under the new recipe: apply it.')).toBeVisible()
  await press(page, page.getByRole('button', { name: 'Apply to all captures' }))
  await expect(page.getByRole('progressbar', { name: 'Measuring under “5–95 % of luminance”' })).toHaveAttribute(
    'aria-valuenow',
    '100',
    { timeout: 30_000 },
  )
  const grid = page.getByRole('grid', { name: 'Difference new − old: Transition duration, ms, sweep 1' })
  await expect(
    grid.getByRole('gridcell', { name: /^\d+ → \d+: \+\d+\.\d+ ms, from .* to .*, 1 capture$/ }),
  ).toHaveCount(6)
  await expect(page.getByRole('table', { name: 'Transitions that changed most' }).getByRole('link')).toHaveCount(6)
  await press(page, page.getByRole('table', { name: 'Transitions that changed most' }).getByRole('link').first())
  await expect(page.getByRole('grid', { name: /^Captures, 1 match/ })).toBeVisible()
  await page.goBack()
  const edge = await grid.getByRole('gridcell', { name: /^0 → 255: / }).textContent()
  const underNew = / to (\d+\.\d+) ms, 1 capture/.exec(edge ?? '')?.[1]
  await tabTo(page, grid.getByRole('gridcell').nth(1))
  await page.keyboard.press('ArrowDown')
  await expect(grid.getByRole('gridcell', { name: '128: no transition' })).toBeFocused()

  await press(page, page.getByRole('button', { name: 'Use for all screens' }), 'Shift+Tab')
  await expect(badge(page)).toHaveAccessibleName(
    `Recipe 5–95 % of luminance (used by all screens, hash ${hash.slice(0, 8)})`,
  )
  await press(page, page.getByRole('link', { name: 'Bench' }), 'Shift+Tab')
  const matrix = page.getByRole('grid', { name: /^Transition duration, ms, sweep 1/ })
  await expect(matrix.getByRole('gridcell', { name: /^0 → 255: / })).toContainText(`${underNew} ms`)
  await press(page, badge(page))
  await expect(parameters(page).getByRole('heading', { name: '5–95 % of luminance' })).toBeVisible()

  const again = await host.restart()
  const after = again.page
  await after.setViewportSize({ width: 1440, height: 900 })
  await expect(badge(after)).toHaveAccessibleName(/^Recipe 5–95 % of luminance/)
  await press(after, badge(after))
  await tabTo(after, after.getByRole('tab', { name: 'Example' }))
  await after.keyboard.press('End')
  await press(after, after.getByRole('button', { name: 'Switch back to “10–90 % of luminance”' }))
  await expect(badge(after)).toHaveAccessibleName(/^Recipe 10–90 % of luminance/)
  await expect(after.getByRole('button', { name: 'Use for all screens' })).toBeVisible()
  expect(again.problems).toEqual([])
})

test('markers follow a slider with less than 50 ms of work for a move, on a trace of 15,000 samples', async ({
  host,
  page,
}, testInfo) => {
  await page.setViewportSize({ width: 1440, height: 900 })
  await recipesAfterSweep(page)
  const session = await page.context().newCDPSession(page)
  // Of the thread, so that a busy machine does not count.
  await session.send('Performance.enable', { timeDomain: 'threadTicks' })
  const workedMs = async (): Promise<number> => {
    const { metrics } = await session.send('Performance.getMetrics')
    return 1000 * (metrics.find(({ name }) => name === 'TaskDuration')?.value ?? Number.NaN)
  }
  await tabTo(page, parameters(page).getByRole('slider', { name: 'End band, half width' }))
  // The first moves load and compile what the others use.
  await page.keyboard.press('ArrowRight')
  await expect(parameters(page).getByText('Unsaved: 1 change')).toBeVisible()
  await drawingTimes(page, 4)
  const before = await workedMs()
  const times = (await drawingTimes(page, MOVES)).sort((a, b) => a - b)
  const work = ((await workedMs()) - before) / MOVES
  const at = (share: number) => times[Math.floor(share * (times.length - 1))] ?? Infinity
  process.stdout.write(
    `${testInfo.project.name}: ${MOVES} moves: ${work.toFixed(1)} ms of the page's processor time each; key to drawn markers, median ${at(0.5).toFixed(1)} ms, p90 ${at(0.9).toFixed(1)} ms\n`,
  )
  expect(work).toBeLessThan(50)
  expect(host.problems).toEqual([])
})

test('recipes come and go as files; a value out of bounds changes nothing; an unsaved draft outlives a reload', async ({
  host,
  page,
}) => {
  await page.setViewportSize({ width: 1024, height: 700 })
  await page.getByRole('link', { name: 'Recipes', exact: true }).click()
  await expect(page.getByText('No trace to try it on')).toBeVisible()
  const file = (text: string) => ({ name: 'mine.json', mimeType: 'application/json', buffer: Buffer.from(text) })
  const chooser = page.locator('input[type=file]')
  await chooser.setInputFiles(file('{"name":"x","darkCode":900}'))
  await expect(page.getByRole('alert')).toContainText(/mine\.json is not a recipe: darkCode/)
  await page.getByRole('button', { name: /^Dismiss/ }).click()
  await chooser.setInputFiles(
    file('{"name":"Order 4","condition":{"kind":"low-pass","shape":"butterworth-4","cutoffHz":900,"phase":"zero"}}'),
  )
  await expect(parameters(page).getByRole('heading', { name: 'Order 4' })).toBeVisible()
  await expect(parameters(page).getByText(/^▲ Rings on steps/)).toBeVisible()
  await chooser.setInputFiles(
    file(
      '{"name":"By another name","condition":{"kind":"low-pass","shape":"butterworth-4","cutoffHz":900,"phase":"zero"}}',
    ),
  )
  await expect(page.getByRole('status').filter({ hasText: 'as “Order 4”' })).toBeVisible()
  await page.getByRole('button', { name: /^Dismiss/ }).click()

  if (host.kind === 'browser') {
    const saved = page.waitForEvent('download')
    await page.getByRole('button', { name: 'Export' }).click()
    const text = readFileSync(await (await saved).path(), 'utf8')
    expect((await saved).suggestedFilename()).toBe('order-4.json')
    expect(JSON.parse(text)).toMatchObject({ name: 'Order 4', darkCode: 102, condition: { cutoffHz: 900 } })
  }

  const cutOff = parameters(page).getByRole('textbox', { name: 'Cut-off' })
  await cutOff.fill('0,2')
  await expect(parameters(page).getByText('Outside 1 to 5000000 Hz; the previous value stays.')).toBeVisible()
  await expect(parameters(page).getByText(/^Saved, /)).toBeVisible()
  await cutOff.fill('1200')
  await expect(parameters(page).getByText('Unsaved: 1 change')).toBeVisible()
  await page.reload()
  await expect(parameters(page).getByText('Unsaved: 1 change')).toBeVisible()
  await expect(cutOff).toHaveValue('1200')
  await page.keyboard.press('t')
  await expect(page.locator('html')).toHaveAttribute('data-theme', 'light')
  expect(await violations(page)).toEqual([])
  for (const element of [parameters(page).getByRole('button', { name: 'Save as new recipe' }), badge(page)])
    // oxlint-disable-next-line no-await-in-loop
    await expect(element).toBeInViewport({ ratio: 1 })
  expect(host.problems).toEqual([])
})
