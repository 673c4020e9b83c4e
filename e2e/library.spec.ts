/** Displays of several archives side by side: added, compared, set aside, remembered, missed, taken out. */
import { copyFile, rm } from 'node:fs/promises'
import { dirname, join } from 'node:path'
import { cutOff, resize, setTheme, violations } from './accessibility.ts'
import { expect, test, type Host } from './fixtures.ts'
import { LARGE, SMALL } from './looks.ts'

const CAPTURES = 120
test.use({ planted: CAPTURES })

const comparedOn = ({ page }: Host) => page.getByRole('region', { name: 'Displays compared' })

/** For everybody, in both themes, large and small. */
async function readable(host: Host): Promise<void> {
  for (const theme of ['light', 'dark'] as const) {
    // oxlint-disable no-await-in-loop
    await setTheme(host.page, theme)
    for (const [width, height] of [SMALL, LARGE]) {
      await resize(host, width, height)
      const where = `${theme} at ${width} × ${height}`
      expect.soft(await violations(host.page), where).toEqual([])
      if (width === SMALL[0]) expect.soft(await cutOff(host.page), where).toEqual([])
    }
    // oxlint-enable no-await-in-loop
  }
}

test('another archive is added, its display ranked with this one, and its loss said', async ({
  host,
  plantedArchive,
}) => {
  const second = join(dirname(host.archive), 'second.sqlite')
  await copyFile(await plantedArchive(CAPTURES), second)
  await host.page.getByRole('link', { name: 'Findings', exact: true }).click()
  const compared = comparedOn(host)
  await expect(compared).toContainText('Add the archive of another one below.')
  if (host.electron === null) {
    await compared.getByRole('textbox', { name: 'Path of an archive on this machine' }).fill(`${second}-not`)
    await compared.getByRole('button', { name: 'Add archive' }).click()
    await expect(host.page.getByRole('alert').filter({ hasText: `There is no file at ${second}-not.` })).toBeVisible()
    await compared.getByRole('textbox', { name: 'Path of an archive on this machine' }).fill(second)
    await compared.getByRole('button', { name: 'Add archive' }).click()
  } else {
    await host.electron.evaluate(({ dialog }, path) => {
      dialog.showOpenDialog = async () => ({ canceled: false, filePaths: [path] })
    }, second)
    await compared.getByRole('button', { name: 'Add archives…' }).click()
  }
  const library = compared.getByRole('region', { name: 'Library' })
  await expect(library.getByText(second, { exact: true })).toBeVisible()
  await expect(library.getByText('▲ simulated', { exact: true })).toHaveCount(2)
  // Both stand with a setting only where the limits allow one.
  for (const name of [/^In window at least/, /^Worst overshoot at most/])
    // oxlint-disable-next-line no-await-in-loop
    await host.page.getByRole('switch', { name }).click({ force: true })
  const limit = host.page.getByRole('textbox', { name: 'Mean overshoot, %' })
  await limit.fill('50')
  await limit.press('Enter')
  await expect(
    compared.getByText(/is not shown to differ from .*\. All of these displays are simulated\./),
  ).toBeVisible()
  await expect(compared.getByRole('img', { name: /displays compared, best first/ })).toContainText('second.sqlite')
  await expect(compared.getByText('rank 1–2')).toHaveCount(2)
  await readable(host)

  await library.getByRole('switch', { name: /second\.sqlite/ }).click({ force: true })
  await expect(compared).toContainText('Add the archive of another one below.')
  // The limits are kept once they have rested for 0.4 s.
  await host.page.waitForTimeout(1000)
  const again = await host.restart()
  await again.page.getByRole('link', { name: 'Findings', exact: true }).click()
  const after = comparedOn(again)
  await expect(after.getByText('rank 1–2')).toHaveCount(2)
  await rm(second)
  await again.page.reload()
  await expect(after.getByText(`There is no archive at ${second}.`)).toBeVisible()
  expect(await violations(again.page)).toEqual([])
  await after.getByRole('button', { name: 'Remove second.sqlite' }).click()
  await expect(after.getByText(second)).toHaveCount(0)
  expect(again.problems).toEqual([])
})
