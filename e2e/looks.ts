/** Pictures of a page as it stands: of all of it, at both sizes in both themes. */
import { mkdirSync } from 'node:fs'
import { join } from 'node:path'
import { resize, setTheme } from './accessibility.ts'
import { expect, type Host, type Page } from './fixtures.ts'
import { ROOT } from './processes.ts'

export const README = join(ROOT, 'assets/screenshots')
/** Not kept. */
export const LOOKED_AT = join(ROOT, 'test-results/looked-at')
export const LARGE = [1440, 900] as const
export const SMALL = [1024, 700] as const

/** What moves has come to rest and what waits for the host, also what a first answer led to, has its answer. */
export async function settled(page: Page): Promise<void> {
  await page.waitForTimeout(200)
  await expect(page.locator('[aria-busy=true]')).toHaveCount(0, { timeout: 30_000 })
  await page.waitForTimeout(400)
}

/** Takes the page, large and dark, for the README where it has a place there; then at both sizes in both themes. */
export async function everyLook({
  host,
  state,
  readme,
}: {
  host: Host
  state: string
  readme?: string
}): Promise<void> {
  if (readme !== undefined) {
    await setTheme(host.page, 'dark')
    await resize(host, ...LARGE)
    await host.page.mouse.move(0, 0)
    await settled(host.page)
    await host.page.screenshot({ path: join(README, `${readme}.png`) })
  }
  for (const theme of ['light', 'dark'] as const) {
    // oxlint-disable no-await-in-loop
    await setTheme(host.page, theme)
    // What the pointer rests on looks chosen.
    await host.page.mouse.move(0, 0)
    for (const [width, height] of [SMALL, LARGE]) {
      await resize(host, width, height)
      await settled(host.page)
      await host.page.screenshot({ path: join(LOOKED_AT, `${state}-${width}-${theme}.png`) })
    }
    // oxlint-enable no-await-in-loop
  }
}

export const open = async (page: Page, screen: string): Promise<void> =>
  page.getByRole('navigation', { name: 'Screens' }).getByRole('link', { name: screen, exact: true }).click()

/** The same for what lies over the page and would be closed by changing the theme: opened anew for each. */
export async function everyDialog(host: Host, state: string, show: () => Promise<void>): Promise<void> {
  const { page } = host
  for (const theme of ['light', 'dark'] as const) {
    // oxlint-disable no-await-in-loop
    await resize(host, ...LARGE)
    await setTheme(page, theme)
    await show()
    for (const [width, height] of [LARGE, SMALL]) {
      await resize(host, width, height)
      await settled(page)
      await page.screenshot({ path: join(LOOKED_AT, `${state}-${width}-${theme}.png`) })
    }
    await page.keyboard.press('Escape')
    // oxlint-enable no-await-in-loop
  }
}

/** What has to be scrolled to, window by window: large in the dark, small in the light. */
export async function everyWindow(host: Host, state: string, scrolled: string): Promise<void> {
  const { page } = host
  for (const [theme, size] of [
    ['dark', LARGE],
    ['light', SMALL],
  ] as const) {
    // oxlint-disable no-await-in-loop
    await setTheme(page, theme)
    await resize(host, size[0], size[1])
    for (let part = 1; part < 20; part += 1) {
      const more = await page.evaluate<boolean>(
        `(() => { const box = document.querySelector('${scrolled}'); const before = box.scrollTop;
          box.scrollTop = ${part} * (box.clientHeight - 80); return box.scrollTop > before + 1 })()`,
      )
      if (!more) break
      await settled(page)
      await page.screenshot({ path: join(LOOKED_AT, `${state}-part${part + 1}-${size[0]}-${theme}.png`) })
    }
    await page.evaluate(`document.querySelector('${scrolled}').scrollTop = 0`)
    // oxlint-enable no-await-in-loop
  }
}

/** Folders of the pictures. */
export function makeFolders(): void {
  mkdirSync(README, { recursive: true })
  mkdirSync(LOOKED_AT, { recursive: true })
}
