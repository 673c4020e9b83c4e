import { violations } from './accessibility.ts'
import { expect, test, type Page } from './fixtures.ts'
import {
  acknowledge,
  benchReady,
  createCampaign,
  fillPlan,
  planOf,
  progressOf,
  setUp,
  startSweep,
  sweepState,
} from './operator.ts'

import { dropFiles, recording, saved } from './recordings.ts'

const QUICK = { Setting: 'Strong', Levels: '0, 128, 255', Repeats: '1' } as const
const gridOf = (page: Page) => page.getByRole('grid', { name: /^Transition duration, ms, sweep \d+/ })
const measured = (page: Page) => gridOf(page).getByRole('gridcell', { name: /: \d+\.\d+ ms/ })
const chosen = (page: Page) => page.getByRole('region', { name: 'Chosen transition' })

/** A finished sweep of six captures. */
async function quickSweep(page: Page, fields: Readonly<Record<string, string>> = QUICK): Promise<void> {
  await fillPlan(page, fields)
  await planOf(page).getByRole('button', { name: 'Start sweep' }).click()
  const warning = page.getByRole('alertdialog')
  await expect(warning.or(progressOf(page).getByText(/running|ladder/))).toBeVisible()
  if (await warning.isVisible()) await acknowledge(page)
  await sweepState(page, /6 \/ 6/)
  await sweepState(page, /finished/)
}

test('a sweep from nothing by mouse: start, read the warning, done; then headline, worst cell, its trace, and back', async ({
  host,
  page,
}) => {
  await benchReady(page)
  await expect(planOf(page).getByRole('status', { name: 'What this plan costs' })).toContainText(/Captures\s*\d/)
  // Three actions: start, tick, acknowledge.
  await startSweep(page)
  await expect(page.getByRole('region', { name: 'Newest capture' }).getByText(/^sweep 1$/)).toBeVisible()
  await expect(page.getByRole('button', { name: 'Start sweep' })).toHaveCount(0)
  await expect(progressOf(page).getByText(/^[1-9]\d* \/ \d+$/)).toBeVisible()
  await progressOf(page).getByRole('button', { name: 'Stop' }).click()
  await sweepState(page, /stopped/)

  const headline = page.getByRole('region', { name: 'Result of sweep 1' })
  for (const label of [
    'Mean duration',
    'Worst duration',
    /^In window at/,
    'Mean overshoot',
    'Worst overshoot',
    /^Dark/,
  ])
    await expect(headline.getByText(label)).toBeVisible()
  const scale = page.getByRole('button', { name: /^Colour scale, good .* to bad / })
  await scale.click()
  await page.getByRole('radiogroup', { name: 'Ends of the colour scale' }).getByText('Values in view').click()
  await page.keyboard.press('Escape')
  await expect(scale).toHaveAccessibleName(/, pinned$/)
  await headline.getByRole('button', { name: /worst duration$/ }).click()
  const cell = (await chosen(page).getByRole('heading', { level: 2 }).textContent()) ?? ''
  await expect(chosen(page).getByRole('heading', { name: /^Capture \d+$/ })).toBeVisible()
  await expect(page.getByRole('img', { name: new RegExp(`^Trace of ${cell}: volts over ms from onset`) })).toBeVisible()
  await chosen(page).getByRole('button', { name: 'Back to the sweep' }).click()
  await expect(chosen(page)).toHaveCount(0)
  expect(host.problems).toEqual([])
})

test('a sweep from nothing by keyboard alone, and one capture looked at', async ({ host, page }) => {
  await createCampaign(page, 'Invented display, keys')
  await fillPlan(page, QUICK)
  await page.locator('body').press('r')
  const warning = page.getByRole('alertdialog', { name: /Flashing light/ })
  await expect(warning).toBeVisible()
  for (let i = 0; i < 4 && !(await warning.getByRole('checkbox').and(page.locator(':focus')).count()); i++)
    await page.keyboard.press('Tab')
  await page.keyboard.press('Space')
  const go = warning.getByRole('button', { name: 'Acknowledge and start' })
  for (let i = 0; i < 4 && !(await go.and(page.locator(':focus')).count()); i++) await page.keyboard.press('Tab')
  await page.keyboard.press('Enter')
  await sweepState(page, /6 \/ 6/)
  await sweepState(page, /finished/)
  await expect(gridOf(page).getByRole('gridcell', { name: /^0 → 255: \d+\.\d+ ms, 1 capture/ })).toBeVisible()
  await expect(measured(page)).toHaveCount(6)
  await page.keyboard.press('m')
  await page.keyboard.press('Home')
  await page.keyboard.press('End')
  await expect(gridOf(page).getByRole('gridcell', { name: /^0 → 255/ })).toBeFocused()
  await page.keyboard.press('Enter')
  await expect(page.getByRole('img', { name: /^Trace of 0 → 255: volts over ms from onset, duration/ })).toBeVisible()
  await page.keyboard.press('l')
  await expect(chosen(page)).toHaveCount(0)
  await page.keyboard.press('n')
  await expect(planOf(page)).toBeVisible()
  await page.keyboard.press('n')
  await expect(gridOf(page)).toBeVisible()
  expect(host.problems).toEqual([])
})

test('a sweep can be paused, taken up again and stopped; nothing captured is lost and its clock goes on', async ({
  host,
  page,
}) => {
  await fillPlan(page, { Setting: 'Strong', Levels: '0, 64, 128, 255', Repeats: '2' })
  await startSweep(page)
  const progress = progressOf(page)
  const elapsed = async () =>
    Number(/Elapsed (?:(\d+) min )?(\d+) s/.exec((await progress.textContent()) ?? '')?.[2] ?? Number.NaN)
  await expect(progress.getByText(/^(?:[4-9]|1\d) \/ 24$/)).toBeVisible()
  const before = await elapsed()
  expect(before).toBeGreaterThan(1)
  await progress.getByRole('button', { name: 'Pause' }).click()
  await expect(progress.getByText('Paused by the operator.')).toBeVisible()
  const held = await progress.getByText(/^\d+ \/ 24$/).textContent()
  await progress.getByRole('button', { name: 'Resume' }).click()
  await expect(progress.getByText(/^\d+ \/ 24$/)).not.toHaveText(held ?? '')
  expect(await elapsed()).toBeGreaterThanOrEqual(before)
  await progress.getByRole('button', { name: 'Stop' }).click()
  await expect(progress.getByText('Stopped by the operator.')).toBeVisible()
  const log = page.getByRole('log', { name: 'Event log' })
  for (const words of [/paused/i, /stopped/i])
    await expect(log.getByRole('listitem').filter({ hasText: words }).first()).toBeVisible()
  const done = Number.parseInt((await progress.getByText(/^\d+ \/ 24$/).textContent()) ?? '', 10)
  expect(done).toBeGreaterThan(Number.parseInt(held ?? '', 10))
  await expect(measured(page)).toHaveCount(Math.min(done, 12))
  expect(host.problems).toEqual([])
})

test('a paused sweep cannot be resumed without a rig, and the strip says that there is none', async ({ page }) => {
  await fillPlan(page, { ...QUICK, Repeats: '3' })
  await startSweep(page)
  await expect(progressOf(page).getByText(/^(?:[1-9]|1[0-5]) \/ 18$/)).toBeVisible()
  await progressOf(page).getByRole('button', { name: 'Pause' }).click()
  await sweepState(page, /Paused by the operator/)
  await setUp(page)
  await page.getByRole('button', { name: 'Disconnect' }).click()
  await expect(page.getByRole('group', { name: 'Status' })).toContainText('No rig')
  await expect(progressOf(page).getByRole('button', { name: 'Resume' })).toBeDisabled()
  await expect(progressOf(page).getByText('Connect a rig.')).toBeVisible()
  await expect(page.locator('.status-strip .status-good')).toHaveCount(0)
  await page.getByRole('button', { name: 'Connect simulated rig' }).click()
  await expect(progressOf(page).getByRole('button', { name: 'Resume' })).toBeEnabled()
})

test('campaign, sweep, matrix and trace in view belong together, after other screens and a reload too', async ({
  page,
}) => {
  await createCampaign(page, 'First campaign')
  await quickSweep(page)
  await createCampaign(page, 'Second campaign')
  await fillPlan(page, { Setting: 'Gentle' })
  await planOf(page).getByRole('button', { name: 'Start sweep' }).click()
  // What the first sweep left is no trace of this one.
  const newest = page.getByRole('region', { name: 'Newest capture' })
  await expect(newest.getByText('The ladder is measured first; the transitions follow.')).toBeVisible()
  await expect(newest.getByText(/^sweep 2$/)).toBeVisible()
  await sweepState(page, /finished/)

  const campaign = page.getByRole('button', { name: /Campaign in view$/ })
  const sweep = page.getByRole('button', { name: /Sweep in view$/ })
  const together = async (name: string, id: number, setting: string) => {
    await expect(campaign).toContainText(name)
    await expect(sweep).toContainText(`${id}: ${setting}, 60 Hz`)
    await expect(
      page.getByRole('grid', { name: `Transition duration, ms, sweep ${id}, ${setting} at 60 Hz` }),
    ).toBeVisible()
    await expect(page.getByRole('region', { name: `Result of sweep ${id}` })).toBeVisible()
  }
  await together('Second campaign', 2, 'Gentle')
  await campaign.click()
  await page.getByRole('option', { name: /^First campaign/ }).click()
  await together('First campaign', 1, 'Strong')
  await measured(page).first().click()
  await expect(chosen(page).getByText(/^sweep 1, repeat 1/)).toBeVisible()
  await page.getByRole('link', { name: 'Traces', exact: true }).click()
  await page.getByRole('link', { name: 'Bench' }).click()
  await together('First campaign', 1, 'Strong')
  await expect(chosen(page).getByText(/^sweep 1, repeat 1/)).toBeVisible()
  await campaign.click()
  await page.getByRole('option', { name: /^Second campaign/ }).click()
  await together('Second campaign', 2, 'Gentle')
  await expect(chosen(page)).toHaveCount(0)
  await page.evaluate(
    "history.replaceState(null, '', '#/bench'); localStorage.removeItem('slewlight.campaign'); location.reload()",
  )
  await together('Second campaign', 2, 'Gentle')
})

test('simulated sweeps do not go into a campaign of imported data', async ({ page }, testInfo) => {
  await benchReady(page)
  await page.getByRole('link', { name: 'Import' }).click()
  await page.getByRole('button', { name: 'New campaign' }).click()
  await page.getByRole('dialog').getByLabel('Name').fill('Recorded display')
  await page.getByRole('button', { name: 'Create campaign' }).click()
  await expect(page.getByRole('dialog')).toBeHidden()
  const files = [recording('invented_0-255_r1.csv', 0, 255), recording('invented_255-0_r1.csv', 255, 0)]
  await dropFiles(page.locator('.recordings'), await saved(testInfo.outputPath('recordings'), files))
  await page.getByLabel('Setting').fill('Strong')
  await page.getByLabel('Refresh, Hz').fill('60')
  await page.getByRole('button', { name: 'Import 2 recordings' }).click()
  await expect(page.getByText(/2 (recordings )?(are )?(stored|imported)/i).first()).toBeVisible()
  await page.getByRole('link', { name: 'Bench', exact: true }).click()
  await expect(page.getByRole('button', { name: /Campaign in view$/ })).toContainText('Recorded display')
  await page.getByRole('button', { name: 'Plan next sweep' }).click()
  await expect(planOf(page).getByText('“Recorded display” holds imported data')).toBeVisible()
  await quickSweep(page)
  await expect(page.getByRole('button', { name: /Campaign in view$/ })).toContainText('Simulated bench')
  await expect(progressOf(page).getByText('simulated', { exact: true })).toBeVisible()
})

test('captures without a result under the recipe say so, and are measured at once', async ({ page }) => {
  await quickSweep(page)
  await expect(measured(page)).toHaveCount(6)
  await page.getByRole('link', { name: /^Recipe .*used by all screens/ }).click()
  await page.getByRole('link', { name: /^Settling within 2 %/ }).click()
  await page.getByRole('tab', { name: 'Apply and compare' }).click()
  await page.getByRole('button', { name: 'Use for all screens' }).click()
  await page.getByRole('link', { name: 'Bench' }).click()
  await expect(gridOf(page).getByRole('gridcell', { name: /not measured under this recipe/ })).toHaveCount(6)
  await expect(page.getByText('6 captures not measured under this recipe.')).toBeVisible()
  await page.getByRole('button', { name: 'Measure now' }).click()
  await expect(measured(page)).toHaveCount(6)
})

test('aiming: black and white shown by hand, the mean in volts and against the range', async ({ host, page }) => {
  await benchReady(page)
  const aim = page.getByRole('region', { name: 'Aim' })
  const mean = aim.getByRole('status', { name: 'Mean of the light' })
  await aim.getByRole('button', { name: 'White' }).click()
  await expect(mean).toHaveText(/^4\.0\d\d V80\.\d % of 5 V$/)
  await expect(aim.getByText('Level 255 is shown.')).toBeVisible()
  await aim.getByRole('button', { name: 'Black' }).click()
  await expect(mean).toHaveText(/^0\.0\d\d V0\.\d % of 5 V$/)
  await aim.getByLabel('Level, code').fill('300')
  await expect(aim.getByRole('button', { name: 'Show level' })).toBeDisabled()
  await aim.getByLabel('Level, code').fill('128')
  await aim.getByRole('button', { name: 'Show level' }).click()
  await expect(aim.getByText('Level 128 is shown.')).toBeVisible()
  await expect(mean).toHaveText(/^[01]\.\d\d\d V\d\d\.\d % of 5 V$/)
  expect(host.problems).toEqual([])
  await aim.getByRole('button', { name: 'Read dark level' }).click()
  await expect(aim.getByText(/^Dark level (19|20)\.\d\d mV$/)).toBeVisible()
})

test('before the start: the list says what is right, doubtful or wrong, and what to do', async ({ page }) => {
  await benchReady(page)
  const card = page.getByRole('region', { name: 'Before the start' })
  const line = (name: string) => card.getByRole('listitem').filter({ hasText: name })
  await card.getByRole('button', { name: 'Check now' }).click()
  await expect(line('Range')).toContainText(/right.*White is 4\.0\d\d\sV, 80\s% of 5\sV/)
  await expect(line('Refresh')).toContainText(/right.*60\sHz measured/)
  await expect(line('Detector')).toContainText('doubtful')
  await expect(card.getByRole('listitem')).toHaveCount(8)
  await planOf(page).getByRole('button', { name: 'Digitizer' }).click()
  await planOf(page).getByLabel('Input range').fill('4')
  await expect(card.getByText('The plan has changed since: check again.')).toBeVisible()
  await card.getByRole('button', { name: 'Check again' }).click()
  await expect(line('Range')).toContainText(/wrong.*Choose a larger range/)
})

test('a plan that cannot run says why at the field as it is typed, and does not start', async ({ page }) => {
  await createCampaign(page, 'Invented display, plans')
  const card = planOf(page)
  const start = card.getByRole('button', { name: 'Start sweep' })
  await fillPlan(page, { Levels: '0, 300' })
  await expect(card.getByText('“300” is not a grey-level code from 0 to 255.')).toBeVisible()
  await expect(start).toBeDisabled()
  await fillPlan(page, { Levels: '0, 255' })
  await expect(start).toBeEnabled()
  await card.getByLabel('Refresh, Hz').fill('144,165')
  await expect(card.getByText('“144,165” can be read in two ways. Use a point: 144.165.')).toBeVisible()
  await expect(start).toBeDisabled()
  await card.getByLabel('Refresh, Hz').fill('60')
  await card.getByRole('button', { name: 'Windows and spacing' }).click()
  await card.getByLabel('After the edge, ms').fill('90')
  await card.getByLabel('Spacing, ms').fill('100')
  await expect(card.getByText(/exceeds three flashes a second/)).toBeVisible()
  await expect(start).toBeDisabled()

  await card.getByRole('button', { name: /Lift the limit/ }).click()
  const dialog = page.getByRole('alertdialog', { name: /Lift the flash limit/ })
  await expect(dialog.getByRole('button', { name: 'Lift the limit' })).toBeDisabled()
  await dialog.getByText('Nobody can see the flashing').click()
  await dialog.getByRole('button', { name: 'Lift the limit' }).click()
  await expect(card.getByText('The flash limit is lifted for this plan.')).toBeVisible()
  await expect(start).toBeEnabled()
  await page.reload()
  await expect(planOf(page).getByText(/exceeds three flashes a second/)).toBeVisible()
  expect(await violations(page)).toEqual([])
})

test('nine levels fit on a large screen and on a small one', async ({ host, page }) => {
  await fillPlan(page, { Levels: '0, 32, 64, 96, 128, 160, 192, 224, 255', Repeats: '1' })
  await startSweep(page)
  await expect(progressOf(page).getByText(/^(?:[2-9]|[1-6]\d) \/ 72$/)).toBeVisible()
  await progressOf(page).getByRole('button', { name: 'Stop' }).click()
  await sweepState(page, /stopped/)
  for (const [width, height] of [
    [1440, 900],
    [1024, 700],
  ] as const) {
    await page.setViewportSize({ width, height })
    const last = gridOf(page).getByRole('gridcell', { name: /^255 → 224/ })
    await expect(last).toBeInViewport({ ratio: 1 })
    const over = `(({ scrollWidth, clientWidth, scrollHeight, clientHeight }) =>
      [scrollWidth - clientWidth, scrollHeight - clientHeight])(document.querySelector('.matrix-scroll'))`
    expect(await page.evaluate(over)).toEqual([0, 0])
  }
  expect(host.problems).toEqual([])
})

test('campaign notes are edited, sweeps renamed, hidden and restored', async ({ host, page }) => {
  await quickSweep(page)
  const sweep = page.getByRole('button', { name: /Sweep in view$/ })
  const dialog = page.getByRole('dialog', { name: /^Campaign/ })
  await page.getByRole('button', { name: 'Edit…' }).click()
  await dialog.getByLabel('Note').fill('Warmed up for 30 minutes')
  await dialog.getByRole('button', { name: 'Save campaign' }).click()
  await expect(dialog.getByRole('button', { name: 'Save campaign' })).toBeDisabled()
  await dialog.getByLabel('Name of sweep 1').fill('First light')
  await dialog.getByRole('button', { name: 'Rename sweep 1' }).click()
  await expect(dialog.getByRole('button', { name: 'Rename sweep 1' })).toBeDisabled()
  expect(await violations(page)).toEqual([])
  await dialog.getByRole('button', { name: 'Hide sweep 1' }).click()
  await expect(dialog.getByRole('button', { name: 'Restore sweep 1' })).toBeVisible()
  await dialog.getByRole('button', { name: 'Close' }).click()
  await expect(page.getByText('No sweep yet')).toBeVisible()
  await page.getByRole('button', { name: 'Edit…' }).click()
  await expect(dialog.getByLabel('Note')).toHaveValue('Warmed up for 30 minutes')
  await dialog.getByRole('button', { name: 'Restore sweep 1' }).click()
  await dialog.getByRole('button', { name: 'Close' }).click()
  await expect(sweep).toContainText('1: First light, Strong, 60 Hz')
  expect(host.problems).toEqual([])
})

test('a message covers nothing and goes away by itself', async ({ page }) => {
  await benchReady(page)
  await page.clock.install()
  await page.reload()
  await benchReady(page)
  await setUp(page)
  await page.getByRole('button', { name: 'Disconnect' }).click()
  await page.getByRole('radio', { name: 'Serial port' }).click()
  await page.getByLabel('Path of the port').fill('/dev/there-is-none')
  await page.getByRole('button', { name: 'Connect', exact: true }).click()
  const message = page.getByRole('alert').filter({ hasText: 'The rig could not be connected' })
  await expect(message).toBeVisible()
  const [box, screen] = [await message.boundingBox(), await page.locator('#screen').boundingBox()]
  expect(box?.y ?? 0).toBeGreaterThanOrEqual((screen?.y ?? 0) + (screen?.height ?? 0) - 1)
  await page.clock.fastForward(21_000)
  await expect(message).toBeHidden()
})
