/** The plot of the trace desk by mouse; what happens is read from what the plot and its handles say of themselves. */
import type { Locator } from 'playwright/test'
import { resize } from './accessibility.ts'
import { expect, test, type Host, type Page } from './fixtures.ts'

test.use({ planted: 500 })

const plotOf = (page: Page) => page.getByRole('application', { name: /^Trace of capture/ })
const edgeOf = (page: Page) => page.getByRole('radio', { name: 'Edge', exact: true })

/** The desk with a capture that has every mark, at the edge. */
async function openDesk({ page }: Host): Promise<void> {
  await page.getByRole('link', { name: 'Traces', exact: true }).waitFor()
  await page.evaluate("location.hash = '#/traces?flag=differs-from-repeats&sort=transition_duration_s&order=down'")
  await expect(page.getByRole('grid', { name: /^Captures, [1-9]/ })).toBeVisible()
  for (const key of ['l', 'ArrowDown']) await page.keyboard.press(key)
  await expect(plotOf(page)).toBeVisible()
  await expect(edgeOf(page)).toBeChecked()
}

/** What the plot says is in view, ms. */
async function inView(page: Page): Promise<readonly [number, number]> {
  const said = (await plotOf(page).getAttribute('aria-label')) ?? ''
  const [, from, to] = /in view from (\S+) to (\S+) ms/.exec(said.replaceAll('−', '-')) ?? []
  return [Number(from), Number(to)]
}

interface Area {
  /** Time and place of a pixel; shares are of the plotting area, from its left and its top. */
  readonly at: (x: number, y: number) => { readonly x: number; readonly y: number }
  readonly width: number
}

async function areaOf(page: Page): Promise<Area> {
  const box = await plotOf(page).locator('.u-over').boundingBox()
  if (box === null) throw new Error('The plot has no area.')
  return {
    at: (x, y) => ({ x: Math.round(box.x + x * box.width), y: Math.round(box.y + y * box.height) }),
    width: box.width,
  }
}

/** Presses at one place of the plotting area, moves to another in steps, and lets go. */
async function drag(page: Page, from: readonly [number, number], to: readonly [number, number]): Promise<void> {
  const { at } = await areaOf(page)
  const [start, end] = [at(...from), at(...to)]
  await page.mouse.move(start.x, start.y)
  await page.mouse.down()
  await page.mouse.move(end.x, end.y, { steps: 8 })
  await page.mouse.up()
}

/**
 * Waits for what is said to be in view. It is rounded to 0.01 ms, and the pointer falls on whole pixels of the view it
 * acted on.
 */
async function expectView(
  page: Page,
  [from, to]: readonly [number, number],
  actedOn: readonly [number, number] = [from, to],
): Promise<void> {
  const { width } = await areaOf(page)
  const tolerance = 0.02 + (1.5 * (actedOn[1] - actedOn[0])) / width
  await expect
    .poll(async () => {
      const [a, b] = await inView(page)
      return Math.max(Math.abs(a - from), Math.abs(b - to))
    })
    .toBeLessThan(tolerance)
}

const valueOf = async (slider: Locator): Promise<number> => Number(await slider.getAttribute('aria-valuenow'))

/** Drags a handle sideways by its tag, px. */
async function dragHandle(page: Page, slider: Locator, px: number): Promise<void> {
  const box = await slider.locator('.plot-handle-tag').boundingBox()
  if (box === null) throw new Error('The handle is not drawn.')
  const start = { x: box.x + box.width / 2, y: box.y + box.height / 2 }
  await page.mouse.move(start.x, start.y)
  await page.mouse.down()
  await page.mouse.move(start.x + px, start.y, { steps: 8 })
  await page.mouse.up()
}

test('the wheel looks closer about the pointer, dragging moves the view, a double click goes back', async ({
  host,
  page,
}) => {
  await openDesk(host)
  const whole = await inView(page)
  const length = whole[1] - whole[0]
  const { at } = await areaOf(page)

  const pointer = at(0.3, 0.5)
  await page.mouse.move(pointer.x, pointer.y)
  const fixedMs = whole[0] + 0.3 * length
  const closer = (ticks: number): readonly [number, number] => {
    const left = length / 1.18 ** ticks
    return [fixedMs - 0.3 * left, fixedMs + 0.7 * left]
  }
  for (let ticks = 1; ticks <= 4; ticks++) {
    await page.mouse.wheel(0, -120)
    await expectView(page, closer(ticks))
  }
  await expect(edgeOf(page)).not.toBeChecked()
  await page.mouse.wheel(0, 120)
  await expectView(page, closer(3))
  // Sideways, as on a touchpad: 8 % of what is in view, later.
  const [a, b] = await inView(page)
  await page.mouse.wheel(120, 0)
  await expectView(page, [a + 0.08 * (b - a), b + 0.08 * (b - a)])

  const [from, to] = await inView(page)
  const span = to - from
  await drag(page, [0.3, 0.5], [0.55, 0.5])
  await expectView(page, [from - 0.25 * span, to - 0.25 * span])
  await drag(page, [0.8, 0.5], [0.4, 0.5])
  await expectView(page, [from + 0.15 * span, to + 0.15 * span])

  await page.mouse.dblclick(pointer.x, pointer.y)
  await expectView(page, whole)
  await expect(edgeOf(page)).toBeChecked()

  // With Alt in volts: the time in view stays, and the plot is not at its edge view any more.
  await page.keyboard.down('Alt')
  await page.mouse.wheel(0, -120)
  await page.keyboard.up('Alt')
  await expect(edgeOf(page)).not.toBeChecked()
  expect(await inView(page)).toEqual(whole)
  expect(host.problems).toEqual([])
})

test('a box is drawn and looked into with its tool, and with Shift without it', async ({ host, page }) => {
  await openDesk(host)
  const whole = await inView(page)
  const part = ([from, to]: readonly [number, number], a: number, b: number): readonly [number, number] => [
    from + a * (to - from),
    from + b * (to - from),
  ]
  const dragToZoom = async (): Promise<void> => {
    await page.getByRole('button', { name: 'More plot options' }).click()
    await page.getByRole('menuitemcheckbox', { name: 'Drag to zoom' }).click()
    await page.keyboard.press('Escape')
    await expect(page.getByRole('menu')).toHaveCount(0)
  }
  await dragToZoom()
  await drag(page, [0.2, 0.2], [0.6, 0.8])
  const boxed = part(whole, 0.2, 0.6)
  await expectView(page, boxed, whole)
  // Hardly moved sideways it is none; it may be drawn from its other corner.
  await drag(page, [0.5, 0.5], [0.5, 0.7])
  await expectView(page, boxed, whole)
  await drag(page, [0.75, 0.8], [0.25, 0.3])
  const inner = part(boxed, 0.25, 0.75)
  await expectView(page, inner, whole)
  await page.keyboard.down('Shift')
  await drag(page, [0.4, 0.5], [0.2, 0.5])
  await page.keyboard.up('Shift')
  await expectView(page, part(inner, 0.2, 1.2), whole)
  const middle = (await areaOf(page)).at(0.5, 0.5)
  await page.mouse.dblclick(middle.x, middle.y)
  await expectView(page, whole)

  await dragToZoom()
  await page.keyboard.down('Shift')
  await drag(page, [0.3, 0.2], [0.5, 0.7])
  await page.keyboard.up('Shift')
  await expectView(page, part(whole, 0.3, 0.5), whole)
  expect(host.problems).toEqual([])
})

test('a cursor and a mark are dragged; the wheel works over them too', async ({ host, page }) => {
  await resize(host, 1440, 900)
  await openDesk(host)
  await page.keyboard.press('c')
  const [a, b] = [page.getByRole('slider', { name: 'Cursor A' }), page.getByRole('slider', { name: 'Cursor B' })]
  await expect(b).toBeVisible()
  const { width } = await areaOf(page)
  const [from, to] = await inView(page)
  const pixelMs = (to - from) / width
  const [atA, atB] = [await valueOf(a), await valueOf(b)]
  const spoken = (await a.getAttribute('aria-valuetext')) ?? ''
  await dragHandle(page, a, 90)
  // The plot's own words are rounded, hence 1 % of the way beside half a pixel.
  await expect.poll(async () => Math.abs((await valueOf(a)) - atA - 90 * pixelMs)).toBeLessThan(1.4 * pixelMs)
  await expect(a).not.toHaveAttribute('aria-valuetext', spoken)
  expect(await valueOf(b)).toBe(atB)
  // The drag belonged to the handle: the view did not move.
  expect(await inView(page)).toEqual([from, to])

  const tag = await b.locator('.plot-handle-tag').boundingBox()
  await page.mouse.move((tag?.x ?? 0) + (tag?.width ?? 0) / 2, (tag?.y ?? 0) + (tag?.height ?? 0) / 2)
  await page.mouse.wheel(0, -120)
  const length = (to - from) / 1.18
  const share = (atB - from) / (to - from)
  await expectView(page, [atB - share * length, atB + (1 - share) * length])
  await page.keyboard.press('c')
  await expect(b).toHaveCount(0)
  await page.getByRole('radio', { name: 'Edge', exact: true }).click()
  await expectView(page, [from, to])

  await page.keyboard.press('w')
  const mark = page.getByRole('slider', { name: 'Second reference crossing' })
  await expect(mark).toBeVisible()
  const numbers = page.getByRole('table', { name: 'Numbers of this capture' })
  await page.getByRole('tab', { name: 'Numbers' }).click()
  await expect(numbers.getByRole('columnheader', { name: 'Preview' })).toBeVisible()
  const row = numbers.getByRole('row', { name: /^Transition duration \d/ })
  /** Duration with the mark moved less the machine's, ms. */
  const longer = async (): Promise<number> => {
    const [machine, , preview] = await row.getByRole('cell').allTextContents()
    return Number.parseFloat(preview ?? '') - Number.parseFloat(machine ?? '')
  }
  expect(await longer()).toBe(0)
  const before = await valueOf(mark)
  // The form of the marks may have taken width from the plot.
  const [markFrom, markTo] = await inView(page)
  const markPixelMs = (markTo - markFrom) / (await areaOf(page)).width
  await dragHandle(page, mark, 40)
  await expect
    .poll(async () => Math.abs((await valueOf(mark)) - before - 40 * markPixelMs))
    .toBeLessThan(1.4 * markPixelMs)
  // As far as the crossing was moved the duration grows, printed to 0.01 ms.
  const moved = (await valueOf(mark)) - before
  await expect.poll(async () => Math.abs((await longer()) - moved)).toBeLessThan(0.011)
  expect(host.problems).toEqual([])
})
