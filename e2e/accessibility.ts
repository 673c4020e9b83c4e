/** What a page as it stands keeps from people: rules of accessibility broken, and controls that cannot be seen whole. */
import { readFileSync } from 'node:fs'
import { expect, type Page } from 'playwright/test'
import type { Host } from './fixtures.ts'

const axeSource = readFileSync(require.resolve('axe-core/axe.min.js'), 'utf8')
const RUN = `axe.run({ resultTypes: ['violations'] }).then(({ violations }) =>
  violations.map(({ id, nodes }) => [id, nodes.map(({ html }) => html)]))`

/** Rules broken on the page, with the elements that break them. The page's policy lets no foreign script in; this goes around it. */
export async function violations(page: Page): Promise<unknown[]> {
  if (await page.evaluate<boolean>('!window.axe')) await page.evaluate(`${axeSource}; undefined`)
  return page.evaluate<unknown[]>(RUN)
}

/**
 * In the page: every control, heading and cell that reaches beyond the window or beyond something that hides its
 * overflow, unless it can be scrolled to; every card whose content spills out of it; and every place that scrolls
 * sideways though it holds no matrix.
 */
const CUT_OFF = `(() => {
  const found = []
  const name = ({ localName, className, textContent }) => localName + '.' + className + ': ' + textContent.slice(0, 60)
  const beyond = (inner, outer) =>
    inner.left < outer.left - 1 || inner.right > outer.right + 1 || inner.top < outer.top - 1 || inner.bottom > outer.bottom + 1
  const page = new DOMRect(0, 0, innerWidth, innerHeight)
  const parts = 'a[href], button, input, textarea, h1, h2, h3, th, td, dt, dd, [role=tab], [role=option], [role=status], [role=img], [role=application]'
  for (const element of document.querySelectorAll(parts)) {
    const box = element.getBoundingClientRect()
    const hidden = element.closest('[aria-hidden=true], [inert], .visually-hidden') !== null || !element.checkVisibility()
    // Inputs of one pixel stand for what is drawn beside them.
    if (hidden || box.width <= 1 || box.height <= 1 || ['checkbox', 'radio', 'file'].includes(element.type)) continue
    let ancestor = element.parentElement
    let holder = null
    for (; ancestor !== null && holder === null; ancestor = ancestor.parentElement) {
      const { overflowX, overflowY, position } = getComputedStyle(ancestor)
      if (overflowX !== 'visible' || overflowY !== 'visible') holder = ancestor
      else if (position === 'fixed') break
    }
    const scrolls = holder !== null && holder !== document.body && /auto|scroll/.test(getComputedStyle(holder).overflow)
    const outer = holder === null || holder === document.body ? page : holder.getBoundingClientRect()
    // What is only for readers of screens stands in a box of one pixel.
    if (outer.width > 1 && !scrolls && beyond(box, outer)) found.push(['cut off', name(element)])
  }
  for (const element of document.querySelectorAll('*')) {
    const { overflowX } = getComputedStyle(element)
    if (/auto|scroll/.test(overflowX) && element.scrollWidth > element.clientWidth + 1 && element.querySelector('table.matrix') === null)
      found.push(['scrolls sideways', name(element)])
  }
  for (const card of document.querySelectorAll('.card')) {
    const spills = getComputedStyle(card).overflowY === 'visible' && card.scrollHeight > card.clientHeight + 1
    if (spills && card.checkVisibility()) found.push(['spills out of its card', name(card)])
  }
  const wide = document.documentElement.scrollWidth - innerWidth
  if (wide > 0) found.push(['page wider than the window', wide])
  return found
})()`

/** What the page does not show whole. */
export async function cutOff(page: Page): Promise<unknown[]> {
  return page.evaluate<unknown[]>(CUT_OFF)
}

/**
 * In the page: controls that cannot be brought into the window by scrolling, and text smaller than 12 px. Sideways
 * scrolling counts as reaching.
 */
const UNREACHABLE = `(() => {
  const found = []
  const name = ({ localName, className, textContent }) => localName + '.' + className + ': ' + textContent.trim().slice(0, 60)
  const parts = 'a[href], button, input, textarea, [role=tab], [role=option], [role=gridcell]'
  for (const element of document.querySelectorAll(parts)) {
    const hidden = element.closest('[aria-hidden=true], [inert], .visually-hidden') !== null || !element.checkVisibility()
    if (hidden || ['checkbox', 'radio', 'file'].includes(element.type)) continue
    element.scrollIntoView({ block: 'center', inline: 'center', behavior: 'instant' })
    const { left, right, top, bottom, width, height } = element.getBoundingClientRect()
    if (width <= 1 || height <= 1) continue
    const [x, y] = [(left + right) / 2, (top + bottom) / 2]
    const there = document.elementFromPoint(x, y)
    if (there === null || !(element.contains(there) || there.contains(element))) found.push(['not reached', name(element)])
  }
  for (const element of document.querySelectorAll('body *')) {
    const own = [...element.childNodes].some((node) => node.nodeType === 3 && node.textContent.trim() !== '')
    // A figure that is drawn smaller than it is has smaller text than its style says.
    const scale = element instanceof SVGGraphicsElement ? (element.getScreenCTM()?.a ?? 1) : 1
    if (own && element.checkVisibility() && scale * parseFloat(getComputedStyle(element).fontSize) < 11.95) found.push(['under 12 px', name(element)])
  }
  return found
})()`

/** What the page does not let a person get to. */
export async function unreachable(page: Page): Promise<unknown[]> {
  return page.evaluate<unknown[]>(UNREACHABLE)
}

/**
 * In the page: what has to be scrolled sideways, other than a box of its own that is named and that the keyboard can
 * scroll: by its own focus, or by that of the cells within. And what is cut off at the side of something that cannot be
 * scrolled.
 */
const SIDEWAYS = `(() => {
  const found = []
  const name = ({ localName, className, textContent }) => localName + '.' + className + ': ' + textContent.trim().slice(0, 60)
  const named = (element) => element.hasAttribute('aria-label') || element.hasAttribute('aria-labelledby')
  const inBox = (element) => element.closest('[tabindex="0"]') !== null && named(element.closest('[tabindex="0"]'))
  for (const element of document.querySelectorAll('*')) {
    if (!element.checkVisibility() || element.scrollWidth <= element.clientWidth + 1 || element.clientWidth <= 1) continue
    const { overflowX, textOverflow } = getComputedStyle(element)
    const cut = /hidden|clip/.test(overflowX) && textOverflow !== 'ellipsis' && element.closest('.visually-hidden, .uplot') === null
    if (cut && element !== document.body) found.push(['cut off at the side', name(element), element.scrollWidth - element.clientWidth])
    if (!/auto|scroll/.test(overflowX)) continue
    const byKeys = (element.tabIndex >= 0 && named(element)) || element.querySelector('[role=grid] [tabindex]') !== null
    if (!byKeys) found.push(['scrolls sideways', name(element), element.scrollWidth - element.clientWidth])
  }
  const parts = 'a[href], button, input, textarea, h1, h2, h3, p, li, th, td, dt, dd, legend, label, figure, [role=tab], [role=img], [role=application]'
  for (const element of document.querySelectorAll(parts)) {
    const { left, right, width, height } = element.getBoundingClientRect()
    const hidden = element.closest('[aria-hidden=true], [inert], .visually-hidden') !== null || !element.checkVisibility()
    if (hidden || width <= 1 || height <= 1 || ['checkbox', 'radio', 'file'].includes(element.type)) continue
    if (!inBox(element) && element.closest('[role=grid]') === null && (left < -1 || right > innerWidth + 1))
      found.push(['beyond the side', name(element)])
  }
  return found
})()`

/** What a person would have to scroll sideways for. */
export async function sideways(page: Page): Promise<unknown[]> {
  return page.evaluate<unknown[]>(SIDEWAYS)
}

/** Sets the size of the page: of the tab, or of the desktop's window. */
export async function resize({ page }: Host, width: number, height: number): Promise<void> {
  await page.setViewportSize({ width, height })
  await expect.poll(() => page.evaluate('[innerWidth, innerHeight]')).toEqual([width, height])
}

/** Sets the theme by its button, where it is not the one already. */
export async function setTheme(page: Page, theme: 'dark' | 'light'): Promise<void> {
  const change = page.getByRole('button', { name: theme === 'dark' ? 'Dark theme' : 'Light theme' })
  if (await change.isVisible()) await change.click()
  await expect(page.locator('html')).toHaveAttribute('data-theme', theme)
}

/** Both themes, at the two sizes of window that are promised: no rule is broken and nothing is cut off. */
export async function expectWhole(host: Host): Promise<void> {
  const { page } = host
  for (const theme of ['dark', 'light'] as const) {
    // One look after the other: they change the same page.
    // oxlint-disable no-await-in-loop
    await setTheme(page, theme)
    for (const [width, height] of [
      [1440, 900],
      [1024, 700],
    ] as const) {
      await resize(host, width, height)
      expect.soft(await violations(page), `${theme}, ${width}`).toEqual([])
      expect.soft(await cutOff(page), `${theme}, ${width}`).toEqual([])
    }
    // oxlint-enable no-await-in-loop
  }
}
