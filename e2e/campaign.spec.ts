/** A campaign from its plan to the report: asked for a setting, caught when it was forgotten, the answer read and handed on. */
import { execFile } from 'node:child_process'
import { join } from 'node:path'
import { promisify } from 'node:util'
import type { Locator } from 'playwright/test'
import { violations } from './accessibility.ts'
import { nextFile } from './downloads.ts'
import { expect, test, type Page } from './fixtures.ts'
import { acknowledge, benchReady, createForRun } from './operator.ts'
import { ROOT } from './processes.ts'

const instruction = (page: Page) => page.getByRole('alertdialog', { name: 'What to do now' })
const menu = (page: Page) => page.getByRole('complementary', { name: 'Menu of the simulated display' })

async function planned(page: Page): Promise<void> {
  await benchReady(page)
  await page.getByRole('link', { name: 'Campaign', exact: true }).click()
  await expect(page.getByText('No campaign yet')).toBeVisible()
  const plan = await createForRun(page)
  await plan.getByLabel('Overdrive settings').fill('Gentle, Strong')
  await plan.getByLabel('Refresh rates').fill('120')
  await plan.getByLabel('Captures of each transition').fill('2')
  await plan.getByRole('button', { name: /Levels$/ }).focus()
  await page.keyboard.press('Enter')
  await page.getByRole('option', { name: /^five equal L\*/ }).click()
  await expect(plan.getByRole('button', { name: /Gentle at 120 Hz$/ })).toHaveText('1')
  await expect(plan.getByRole('button', { name: /Strong at 120 Hz$/ })).toHaveText('2')
}

/** A sweep of a finished run is to be taken again, is skipped, taken after all, and the earlier one brought back. */
async function changedOnTheGrid(runs: Locator): Promise<void> {
  await runs.getByText('Sweeps of this run: skip, take again, bring back').click()
  const cell = runs.getByRole('button', { name: /^Gentle at 120 Hz:/ })
  const resume = runs.getByRole('button', { name: 'Resume' })
  const choose = async (what: string): Promise<void> => {
    if ((await cell.getAttribute('aria-pressed')) !== 'true') await cell.click()
    await runs.getByRole('region', { name: 'Gentle at 120 Hz' }).getByRole('button', { name: what }).click()
  }
  await expect(cell).toHaveText(/done 40 of 40$/)
  await choose('Take it again')
  await expect(cell).toHaveText(/to do 0 of 40 · 1 hidden$/)
  await expect(resume).toBeVisible()
  await choose('Skip it')
  await expect(cell).toHaveText(/skipped 0 of 40 · 1 hidden$/)
  await expect(resume).toBeHidden()
  await choose('Take it after all')
  await expect(cell).toHaveText(/to do 0 of 40 · 1 hidden$/)
  await expect(resume).toBeVisible()
  await choose('Bring it back')
  await expect(cell).toHaveText(/done 40 of 40 · 1 hidden$/)
  await expect(resume).toBeHidden()
}

test('two settings planned, one forgotten and caught, the answer read, a limit moved, report and bundle saved', async ({
  host,
  page,
  chromiumBrowser,
}, testInfo) => {
  await planned(page)
  expect(await violations(page)).toEqual([])
  await page.getByRole('button', { name: 'Start the run' }).focus()
  await page.keyboard.press('Enter')
  await acknowledge(page)

  await expect(instruction(page)).toContainText('Set overdrive to Gentle and refresh rate to 120 Hz')
  await expect(instruction(page)).toContainText('Sweep 1 of 2')
  await menu(page).getByRole('radio', { name: 'Gentle' }).press('Space')
  await menu(page).getByLabel('Refresh rate').fill('120')
  expect(await violations(page)).toEqual([])
  await instruction(page).getByRole('button', { name: 'Done' }).focus()
  await page.keyboard.press('Space')
  await expect(page.getByRole('region', { name: 'Run' })).toContainText('Gentle at 120 Hz')
  await expect(page.getByRole('region', { name: 'Run' })).toContainText(/Capturing · sweep 1 of 2/)
  expect(await violations(page)).toEqual([])

  await expect(instruction(page)).toContainText('Set overdrive to Strong')
  await page.keyboard.press('Space')
  await expect(instruction(page)).toContainText('This still looks like Gentle')
  await expect(menu(page).getByRole('radio', { name: 'Gentle' })).toBeChecked()
  await menu(page).getByText('Strong', { exact: true }).click()
  await instruction(page).getByRole('button', { name: 'Done, check again' }).focus()
  await page.keyboard.press('Space')
  await expect(page.getByRole('region', { name: 'Run' })).toContainText(/Capturing · sweep 2 of 2/)

  const finished = page.getByRole('region', { name: 'Earlier runs' })
  await expect(finished).toContainText('Gentle, Strong at 120 Hz (2 sweeps)')
  await changedOnTheGrid(finished)
  await finished.getByRole('link', { name: 'Findings' }).focus()
  await page.keyboard.press('Enter')

  const answer = page.getByRole('region', { name: 'Answer' })
  await expect(answer).toContainText(/Gentle|Strong/)
  const grid = page.getByRole('img', { name: /of every setting at every refresh rate measured/ })
  await expect(grid).toContainText('Gentle')
  await expect(grid).toContainText('Strong')
  await expect(page.getByText('Invented display, simulated rig')).toBeVisible()
  const usable = page.getByRole('region', { name: 'Settings and refresh rates' }).getByText(/^Usable means/)
  const before = await usable.textContent()
  const share = page.getByRole('slider', { name: 'In window' })
  await share.focus()
  await page.keyboard.press('Home')
  await expect(usable).not.toHaveText(before ?? '')
  await expect(usable).toContainText('0 %')
  expect(await violations(page)).toEqual([])

  const folder = testInfo.outputPath()
  const html = await nextFile(host, folder, () => page.getByRole('button', { name: 'Report, HTML' }).press('Enter'))
  expect(html.name).toMatch(/\.html$/)
  expect(html.bytes.toString()).toContain('<!doctype html>')
  expect(html.bytes.toString()).toContain('these numbers come from a simulated rig')
  const bundle = await nextFile(host, folder, () =>
    page.getByRole('button', { name: 'Evidence bundle' }).press('Enter'),
  )
  expect(bundle.name).toMatch(/\.zip$/)
  expect(bundle.bytes.subarray(0, 2).toString()).toBe('PK')
  // Anybody can check it: every trace is measured again, every number compared.
  const verified = await promisify(execFile)(process.execPath, [
    join(ROOT, 'out/main/cli.js'),
    'verify',
    join(folder, bundle.name),
  ])
  expect(verified.stdout).toMatch(/^Everything agrees: \d+ traces measured again/m)

  // A limit is a line in its plot, moved by keys; kept with the campaign, and undone.
  const line = page.getByRole('slider', { name: 'Limit of mean overshoot' })
  await expect(line).toHaveAttribute('aria-valuetext', 'at most 5 %')
  await line.focus()
  await page.keyboard.press('ArrowUp')
  await expect(usable).toContainText('mean overshoot of at most 5.5 %')
  const box = (await line.boundingBox())!
  await page.mouse.move(box.x + box.width / 2, box.y + box.height / 2)
  await page.mouse.down()
  await page.mouse.move(box.x + box.width / 2, box.y + box.height / 2 + 30, { steps: 4 })
  await page.mouse.up()
  await expect(usable).not.toContainText('mean overshoot of at most 5.5 %')
  await page.getByRole('button', { name: 'Undo' }).press('Enter')
  await expect(line).toHaveAttribute('aria-valuetext', /^at most 5(\.5)? %$/)
  const kept = await line.getAttribute('aria-valuetext')
  await expect(page.getByText('These limits are kept with the campaign.')).toBeVisible()
  await page.waitForTimeout(1000)
  await page.reload()
  await expect(line).toHaveAttribute('aria-valuetext', kept ?? '')

  const csv = await nextFile(host, folder, () =>
    page.getByRole('button', { name: 'CSV of Mean duration over refresh with U95' }).press('Enter'),
  )
  expect(csv.bytes.toString()).toMatch(/^setting,refresh_hz,duration_mean_s,u95_s\r\nGentle,120,/)
  const png = await nextFile(host, folder, () =>
    page.getByRole('button', { name: 'PNG of Mean duration over refresh with U95' }).press('Enter'),
  )
  // Width and height of a PNG stand in its first chunk: two pixels for one of 680 × 340.
  expect([png.bytes.readUInt32BE(16), png.bytes.readUInt32BE(20)]).toEqual([1360, 680])

  // What a tracking eye gets of an edge follows speed and levels.
  const edges = page.getByRole('region', { name: 'Moving edges' })
  await expect(edges).toContainText(/Computed, not photographed: .* at 960 px\/s and 120 Hz/)
  await edges.getByLabel('Speed, px/s').fill('1440')
  await expect(edges).toContainText('at 1440 px/s')
  const strips = edges.getByRole('img', { name: 'Computed moving edges of all settings.' })
  await expect(strips).toContainText('Gentle')
  await expect(strips).toContainText('Strong')

  // The report opens by itself: nothing is asked for, and nothing bars anybody.
  const reader = await (await chromiumBrowser()).newPage()
  const asked: string[] = []
  reader.on('request', (request) => asked.push(request.url()))
  await reader.setContent(html.bytes.toString())
  await expect(reader.getByRole('heading', { name: 'Answer' })).toBeVisible()
  expect(await violations(reader)).toEqual([])
  expect(asked.filter((url) => !url.startsWith('data:'))).toEqual([])
  await reader.close()

  expect(host.problems).toEqual([])
})
