import { resize } from './accessibility.ts'
import { expect, test, type Page } from './fixtures.ts'

/** Invented captures, ten of them with planted defects. */
const CAPTURES = 500
test.use({ planted: CAPTURES })

const listOf = (page: Page) => page.getByRole('grid', { name: /^Captures, / })
const flagsOf = (page: Page) => page.locator('.flag-list')
const standingOf = (page: Page) => page.getByRole('status', { name: 'Standing decision' })
const effectOf = (page: Page) => page.getByRole('status', { name: 'Effect on its cell' })

/** Presses Tab until the focus is on an element with this accessible name. */
async function tabTo(page: Page, role: 'link' | 'button' | 'tab' | 'slider', name: RegExp): Promise<void> {
  const focused = page.getByRole(role, { name }).and(page.locator(':focus'))
  for (let presses = 0; presses < 60; presses += 1) {
    // One press after the other is the point of this loop.
    // oxlint-disable-next-line no-await-in-loop
    if ((await focused.count()) > 0) return
    // oxlint-disable-next-line no-await-in-loop
    await page.keyboard.press('Tab')
  }
  throw new Error(`Tab does not lead to the ${role} ${String(name)}.`)
}

async function openTraces(page: Page): Promise<void> {
  await page.getByRole('link', { name: 'Traces', exact: true }).waitFor()
  await tabTo(page, 'link', /^Traces$/)
  await page.keyboard.press('Enter')
  await expect(listOf(page)).toHaveAccessibleName(`Captures, ${CAPTURES} matches`)
}

/** Lists the captures that differ from their repeats, the slowest first, and shows the first of them. */
async function showWorst(page: Page): Promise<void> {
  await page.keyboard.press('/')
  await page.keyboard.press('ArrowRight')
  await page.keyboard.press('ArrowRight')
  await page.keyboard.press('Enter')
  await expect(listOf(page)).toHaveAccessibleName(/^Captures, \d{1,2} match/)
  await tabTo(page, 'button', /Order by/)
  await page.keyboard.press('Enter')
  await page.keyboard.type('Transition duration')
  await page.keyboard.press('Enter')
  await tabTo(page, 'button', /^low first/)
  await page.keyboard.press('Enter')
  await page.keyboard.press('l')
  await expect(listOf(page)).toHaveAccessibleName(/^Captures, \d{1,2} match/)
  await page.keyboard.press('ArrowDown')
  await expect(page.getByRole('heading', { name: /^Capture \d+$/ })).toBeVisible()
}

async function openWorst(page: Page): Promise<void> {
  await openTraces(page)
  await showWorst(page)
}

/** Types into whatever has the focus, replacing what is there. */
async function write(page: Page, text: string): Promise<void> {
  await page.keyboard.press('Control+a')
  await page.keyboard.type(text)
}

const shownId = async (page: Page): Promise<string> =>
  ((await page.getByRole('heading', { name: /^Capture \d+$/ }).textContent()) ?? '').replace('Capture ', '')

const meanOf = async (page: Page): Promise<string> => (await page.locator('.effect-mean').textContent()) ?? ''

test('by keyboard alone: find the worst, read why, exclude it with a reason, see the mean change, undo', async ({
  host,
  page,
}) => {
  await openWorst(page)

  await page.keyboard.press('f')
  await expect(flagsOf(page).getByRole('button').first()).toBeFocused()
  const why = flagsOf(page)
    .locator('.flag-item')
    .filter({ hasText: /Differs from its repeats/ })
  await expect(why).toContainText(/differs from the median .*\sms of \d+ other captures by more than/)
  await expect(flagsOf(page).getByRole('button').first()).toBeFocused()
  await page.keyboard.press('Enter')
  await expect(flagsOf(page).getByRole('button').first()).toHaveAttribute('aria-pressed', 'true')

  await expect(effectOf(page)).toContainText(/n 5, 0 excluded/)
  await expect(effectOf(page)).toContainText(/Without this capture: [\d.]+ ms \([+−][\d.]+ ms, [+−][\d.]+ %\), n 4/)
  const before = await meanOf(page)
  const id = await shownId(page)
  const promised = /Without this capture: ([\d.]+ ms)/.exec((await effectOf(page).textContent()) ?? '')?.[1]
  await page.keyboard.press('e')
  await expect(page.getByLabel('Reason', { exact: true })).toBeFocused()
  await page.keyboard.type('Sensor was touched')
  await page.keyboard.press('Enter')
  await expect(page.getByText('Enter your name.')).toBeVisible()
  await page.keyboard.press('Tab')
  await page.keyboard.type('Invented reviewer')
  await page.keyboard.press('Enter')
  // A decision on a doubtful capture leads to the next one.
  const heading = page.getByRole('heading', { name: /^Capture \d+$/ })
  await expect(heading).not.toHaveText(`Capture ${id}`)
  await page.evaluate(`location.hash = '#/traces/${id}'`)
  await expect(standingOf(page)).toContainText('excluded “Sensor was touched”, Invented reviewer')
  await expect(effectOf(page)).toContainText('n 4, 1 excluded')
  expect(await meanOf(page)).toBe(promised)
  expect(await meanOf(page)).not.toBe(before)

  await page.keyboard.press('Control+z')
  await expect(standingOf(page)).toHaveText('No decision yet.')
  await expect(effectOf(page)).toContainText('n 5, 0 excluded')
  expect(await meanOf(page)).toBe(before)
  await expect(page.getByRole('button', { name: `Redo: exclude capture ${id}` })).toBeVisible()
  await page.keyboard.press('Control+Shift+z')
  await expect(effectOf(page)).toContainText('n 4, 1 excluded')
  expect(host.problems).toEqual([])
})

test('a started decision outlives another size of the window and another tab', async ({ host, page }) => {
  await resize(host, 1440, 900)
  await openWorst(page)
  await page.keyboard.press('e')
  const reason = page.getByLabel('Reason', { exact: true })
  await reason.fill('Sensor was touched')
  await resize(host, 1024, 700)
  await page.getByRole('tab', { name: 'Review', exact: true }).click()
  await expect(reason).toHaveValue('Sensor was touched')
  await page.getByRole('tab', { name: /^Flags/ }).click()
  await expect(reason).toHaveCount(0)
  await page.getByRole('tab', { name: 'Review', exact: true }).click()
  await expect(reason).toHaveValue('Sensor was touched')
  await expect(page.getByRole('button', { name: /^Exclude capture/ })).toBeVisible()
  expect(host.problems).toEqual([])
})

test('a flag shows the samples it points at; the next doubt is one key away', async ({ host, page }) => {
  await openTraces(page)
  await page.keyboard.press('n')
  const heading = page.getByRole('heading', { name: /^Capture \d+$/ })
  await expect(heading).toBeVisible()
  const first = await heading.textContent()
  await page.keyboard.press('n')
  await expect(heading).not.toHaveText(first ?? '')
  await page.keyboard.press('p')
  await expect(heading).toHaveText(first ?? '')

  await page.evaluate("location.hash = '#/traces?flag=clipped'")
  await expect(listOf(page)).toHaveAccessibleName(/^Captures, [1-9]\d? match/)
  await page.keyboard.press('l')
  await page.keyboard.press('ArrowDown')
  await expect(
    flagsOf(page)
      .locator('.flag-item')
      .filter({ hasText: /Clipped/ }),
  ).toBeVisible()
  const plot = page.getByRole('application', { name: /^Trace of capture/ })
  const whole = await plot.getAttribute('aria-label')
  await page.keyboard.press('f')
  await expect(flagsOf(page).getByRole('button').first()).toBeFocused()
  await page.keyboard.press('Enter')
  await expect(flagsOf(page).getByRole('button').first()).toContainText(
    /Samples [\d\u202f]+–[\d\u202f]+, [\d.]+ to [\d.]+ ms/,
  )
  await expect(plot).not.toHaveAttribute('aria-label', whole ?? '')
  await page.keyboard.press('g')
  await page.keyboard.press('0')
  await expect(plot).toHaveAttribute('aria-label', whole ?? '')
  expect(host.problems).toEqual([])
})

test('marks moved by keyboard are previewed, stored beside the machine’s own, and taken back', async ({
  host,
  page,
}) => {
  await openWorst(page)
  await page.keyboard.press('w')
  const id = await shownId(page)
  const numbers = page.getByRole('table', { name: 'Numbers of this capture' })
  await tabTo(page, 'slider', /^Second reference crossing$/)
  await page.keyboard.press('Shift+ArrowRight')
  if (!(await numbers.isVisible())) await page.getByRole('tab', { name: 'Numbers' }).focus()
  await expect(numbers.getByRole('columnheader', { name: 'Preview' })).toBeVisible()
  const row = numbers.getByRole('row', { name: /^Transition duration \d/ })
  // Until the moved mark is measured the preview is what the machine found.
  const cells = row.getByRole('cell')
  const [machine] = await cells.allTextContents()
  await expect
    .poll(async () => Number.parseFloat((await cells.nth(2).textContent()) ?? ''))
    .toBeGreaterThan(Number.parseFloat(machine ?? ''))
  const preview = await cells.nth(2).textContent()

  await page.keyboard.press('w')
  if (!(await page.getByLabel('Reason', { exact: true }).isVisible()))
    await page.getByRole('tab', { name: 'Review' }).focus()
  await page.getByLabel('Reason', { exact: true }).focus()
  await write(page, 'Crossing taken at a ripple')
  await page.keyboard.press('Tab')
  await write(page, 'Invented reviewer')
  await page.keyboard.press('Enter')
  await expect(page.getByRole('heading', { name: `Capture ${id}` })).toHaveCount(0)
  await page.evaluate(`location.hash = '#/traces/${id}'`)
  await expect(standingOf(page)).toContainText('marks moved by hand “Crossing taken at a ripple”')
  if (!(await numbers.isVisible())) await page.getByRole('tab', { name: 'Numbers' }).focus()
  await expect(numbers.getByRole('columnheader', { name: 'Automatic' })).toBeVisible()
  await expect(row.getByRole('cell').first()).toHaveText(preview ?? '')
  await expect(row.getByRole('cell').nth(2)).toHaveText(machine ?? '')
  await page.keyboard.press('Control+z')
  await expect(numbers.getByRole('columnheader', { name: 'Automatic' })).toHaveCount(0)
  expect(host.problems).toEqual([])
})

test('a capture sent back waits on the Bench, is taken again there, and the new one counts', async ({ host, page }) => {
  await openWorst(page)
  const sent = (await page.getByRole('heading', { name: /^Capture \d+$/ }).textContent()) ?? ''
  const id = sent.replace('Capture ', '')
  await page.keyboard.press('q')
  await expect(page.getByLabel('Reason', { exact: true })).toBeFocused()
  await page.keyboard.type('Disturbed recording')
  await page.keyboard.press('Tab')
  await page.keyboard.type('Invented reviewer')
  await page.keyboard.press('Enter')
  await expect(page.getByRole('heading', { name: sent, exact: true })).toHaveCount(0)
  await page.evaluate(`location.hash = '#/traces/${id}'`)
  await expect(standingOf(page)).toContainText('to be retaken “Disturbed recording”')

  await page.getByRole('link', { name: 'Bench' }).click()
  await page.getByRole('tab', { name: 'Retakes 1' }).click()
  const queue = page.getByRole('region', { name: /^Retakes of sweep \d+$/ })
  await expect(queue).toContainText(`#${id}`)
  await expect(queue).toContainText('“Disturbed recording”, Invented reviewer')
  await queue.getByRole('button', { name: 'Run 1 retake' }).click()
  const warning = page.getByRole('alertdialog', { name: /Flashing light/ })
  await warning.getByText('I have read this').click()
  await warning.getByRole('button', { name: 'Acknowledge and start' }).click()
  await expect(page.getByText('Nothing to retake')).toBeVisible()

  await page.evaluate(`location.hash = '#/traces/${id}'`)
  await expect(page.getByText(/^Capture \d+ was taken later and counts in its place\.$/)).toBeVisible()
  await expect(effectOf(page)).toContainText('This capture is not part of the mean.')
  expect(host.problems).toEqual([])
})

test('the queue counts, wraps at its ends in both directions, and shrinks with each decision', async ({
  host,
  page,
}) => {
  await page.evaluate("location.hash = '#/traces?flag=differs-from-repeats&sort=transition_duration_s&order=down'")
  await expect(listOf(page)).toHaveAccessibleName(/^Captures, [1-9]/)
  const queue = page.getByRole('status', { name: 'Doubtful captures' })
  await expect(queue).toHaveText(/^\d+ doubtful$/)
  const total = Number.parseInt((await queue.textContent()) ?? '', 10)
  expect(total).toBeGreaterThan(1)
  for (let place = 1; place <= total; place += 1) {
    // oxlint-disable-next-line no-await-in-loop
    await page.keyboard.press('n')
    // oxlint-disable-next-line no-await-in-loop
    await expect(queue).toHaveText(`${place} of ${total} doubtful`)
  }
  // Past the last one the first comes again, though every other one stands above in the list.
  await page.keyboard.press('n')
  await expect(queue).toHaveText(`1 of ${total} doubtful`)
  await page.keyboard.press('p')
  await expect(queue).toHaveText(`${total} of ${total} doubtful`)
  await page.getByRole('button', { name: 'Next doubtful capture' }).click()
  await expect(queue).toHaveText(`1 of ${total} doubtful`)
  await expect(page.getByText(/^No (other )?doubtful capture/)).toHaveCount(0)

  const decided = await shownId(page)
  await page.getByRole('radio', { name: 'Keep' }).click()
  await page.getByRole('button', { name: 'Agrees with its repeats' }).click()
  await page.getByLabel('Your name').fill('Invented reviewer')
  await page.getByRole('button', { name: `Keep capture ${decided}` }).click()
  await expect(queue).toHaveText(`1 of ${total - 1} doubtful`)
  expect(await shownId(page)).not.toBe(decided)
  await page.keyboard.press('Control+z')
  await expect(page.getByRole('heading', { name: `Capture ${decided}` })).toBeVisible()
  await expect(queue).toHaveText(`1 of ${total} doubtful`)
  expect(host.problems).toEqual([])
})

test('one decision for all captures with a flag, undone in one step; a flag accepted for the sweep is no doubt there', async ({
  host,
  page,
}) => {
  await resize(host, 1440, 900)
  await page.evaluate("location.hash = '#/traces?flag=differs-from-repeats'")
  await expect(listOf(page)).toHaveAccessibleName(/^Captures, [1-9]/)
  const queue = page.getByRole('status', { name: 'Doubtful captures' })
  await expect(queue).toHaveText(/^\d+ doubtful$/)
  const total = Number.parseInt((await queue.textContent()) ?? '', 10)
  await page.keyboard.press('n')
  const id = await shownId(page)

  await page.getByRole('radio', { name: 'Keep' }).click()
  await page.getByRole('button', { name: /Applies to$/ }).click()
  await page.getByRole('option', { name: /^All with “Differs from its repeats” in sweep \d+$/ }).click()
  await page.getByLabel('Reason', { exact: true }).fill('Known from the set-up')
  await page.getByLabel('Your name').fill('Invented reviewer')
  const submit = page.getByRole('button', { name: /^Keep \d+ captures?$/ })
  const captures = Number.parseInt(/\d+/.exec((await submit.textContent()) ?? '')?.[0] ?? '', 10)
  await submit.click()
  await expect(queue).toHaveText(new RegExp(`^(\\d+ of )?${total - captures} doubtful$|^none doubtful$`))
  await page.keyboard.press('Control+z')
  await expect(page.getByRole('button', { name: /^Redo: keep / })).toBeVisible()
  await expect(queue).toHaveText(new RegExp(`${total} doubtful$`))

  await page.evaluate(`location.hash = '#/traces/${id}?flag=differs-from-repeats'`)
  // One with another flag beside it would stay doubtful.
  const shownFlags = flagsOf(page).locator('.flag-item')
  for (let place = 1; place <= total; place += 1) {
    // oxlint-disable no-await-in-loop
    await expect(queue).toHaveText(`${place} of ${total} doubtful`)
    await expect(shownFlags.filter({ hasText: /Differs from its repeats/ })).toBeVisible()
    if ((await shownFlags.count()) === 1) break
    await page.keyboard.press('n')
    // oxlint-enable no-await-in-loop
  }
  await expect(shownFlags).toHaveCount(1)
  await page.getByRole('button', { name: /^Accept “Differs from its repeats” for sweep/ }).click()
  await page.getByLabel('Why it is there').fill('The display had just been switched on')
  await page.getByRole('button', { name: 'Accept the flag' }).click()
  const flags = page.getByRole('region', { name: 'Flags' })
  await expect(flags).toContainText('“The display had just been switched on”, Invented reviewer')
  await expect(queue).toHaveText(`${total - 1} doubtful`)
  await expect(listOf(page)).toContainText('(accepted)')
  await page.getByRole('button', { name: /^Withdraw the acceptance/ }).click()
  await expect(queue).toHaveText(new RegExp(`${total} doubtful$`))
  expect(host.problems).toEqual([])
})

test('any two captures are laid over each other, by key and by mouse', async ({ host, page }) => {
  await page.evaluate("location.hash = '#/traces/20'")
  const heading = page.getByRole('heading', { name: /^Capture \d+$/ })
  await expect(heading).toHaveText('Capture 20')
  await page.keyboard.press('a')
  await expect(page.getByRole('button', { name: 'Unpin capture 20' })).toBeVisible()
  const key = page.locator('.trace-legend')
  await expect(key).not.toContainText('capture 20')
  // One of another sweep, another transition.
  await page.evaluate("location.hash = '#/traces/301'")
  await expect(heading).toHaveText('Capture 301')
  await expect(key).toContainText(/capture 20, \d+ → \d+, repeat \d/)
  await page.getByRole('button', { name: 'Unpin capture 20' }).click()
  await expect(key).not.toContainText('capture 20')
  expect(host.problems).toEqual([])
})

/** In the page: every text the plot draws from now on, and whether it reaches into the plotting area. CSS px of the canvas. */
const WATCH_TEXT = `(() => {
  window.drawnTexts = []
  const over = document.querySelector('.desk-plot .u-over')
  const [left, top] = [over.offsetLeft, over.offsetTop]
  window.onTheCurve = ([, from, to, middle]) =>
    to > left && from < left + over.clientWidth && middle + 5 > top && middle - 5 < top + over.clientHeight
  const own = (window.drawText ??= CanvasRenderingContext2D.prototype.fillText)
  CanvasRenderingContext2D.prototype.fillText = function (text, x, y, ...rest) {
    if (this.canvas.closest('.desk-plot') !== null) {
      const width = this.measureText(text).width
      const start = this.textAlign === 'center' ? x - width / 2 : this.textAlign === 'right' ? x - width : x
      const middle = this.textBaseline === 'top' ? y + 6 : this.textBaseline === 'bottom' ? y - 6 : y
      window.drawnTexts.push([text, start, start + width, middle].map((v) => (v > 0 ? v / devicePixelRatio : v)))
    }
    return own.call(this, text, x, y, ...rest)
  }
})()`

test('layers share the height with the plot, every name on it is beside the curve, and it says whose trace it is', async ({
  host,
  page,
}) => {
  await resize(host, 1440, 900)
  await page.evaluate("location.hash = '#/traces?flag=differs-from-repeats&sort=transition_duration_s&order=down'")
  await expect(listOf(page)).toHaveAccessibleName(/^Captures, [1-9]/)
  await page.keyboard.press('n')
  const plot = page.getByRole('application', { name: /^Trace of capture/ })
  await expect(plot).toBeVisible()
  const caption = page.locator('.trace-caption')
  await expect(caption).toContainText(/· \S+ · [\d.]+ Hz · \d+ → \d+ · repeat \d/)
  await expect(caption).toContainText('10–90 % of luminance')
  for (const key of ['c', 'o', 'd', 'b', 'x']) {
    // oxlint-disable-next-line no-await-in-loop
    await page.keyboard.press(key)
  }
  await expect(page.getByText('Spectrum, mV over Hz')).toBeInViewport({ ratio: 1 })
  await expect(page.getByText('Residual, mV')).toBeInViewport({ ratio: 1 })
  const area = await plot.locator('.u-over').boundingBox()
  expect(area?.height).toBeGreaterThan(200)
  // One row of tools at both sizes.
  for (const [width, height] of [
    [1440, 900],
    [1024, 700],
  ] as const) {
    // oxlint-disable no-await-in-loop
    await resize(host, width, height)
    const bar = await page.getByRole('toolbar', { name: 'Plot' }).boundingBox()
    expect(bar?.height).toBeLessThan(48)
    await page.evaluate(WATCH_TEXT)
    await page.keyboard.press('v')
    await page.keyboard.press('v')
    await expect.poll(() => page.evaluate<number>('window.drawnTexts.length')).toBeGreaterThan(20)
    expect(await page.evaluate('window.drawnTexts.filter(window.onTheCurve)')).toEqual([])
    // oxlint-enable no-await-in-loop
  }
  expect(host.problems).toEqual([])
})
