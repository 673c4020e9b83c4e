/** Recordings of another instrument into the archive and out again: by mouse, by keyboard, and when something is wrong. */
import { violations } from './accessibility.ts'
import { nextFile } from './downloads.ts'
import { expect, test, type Page } from './fixtures.ts'
import { dropFiles, PDF, recording, saved, TAU_S, type Recording } from './recordings.ts'

const LEVELS = [0, 128, 255] as const
/** Every ordered pair of the levels, once. */
const PAIRS = LEVELS.flatMap((from) => LEVELS.filter((to) => to !== from).map((to) => [from, to] as const))
/** 10–90 % of a first-order step, ms (closed form). */
const DURATION_MS = TAU_S * Math.log(9) * 1000

const everyPair = (): Recording[] => PAIRS.map(([from, to]) => recording(`panel_${from}-${to}_r1.csv`, from, to))
const recordingsOf = (page: Page) => page.locator('.recordings')
const listOf = (page: Page) => page.getByRole('listbox', { name: 'Recordings to import' })
const resultOf = (page: Page) => page.getByRole('region', { name: 'Result of the import' })
const importButton = (page: Page) => page.getByRole('button', { name: /^Import (\d|recordings)/ })

async function openImport(page: Page): Promise<void> {
  await page.getByRole('link', { name: 'Import' }).click()
  await expect(page.getByText('Drop oscilloscope CSV files here')).toBeVisible()
}

/** Campaign, setting and refresh of the sweep to be imported. */
async function describeSweep(page: Page): Promise<void> {
  await page.getByRole('button', { name: 'New campaign' }).click()
  const dialog = page.getByRole('dialog', { name: 'New campaign' })
  await dialog.getByLabel('Name').fill('Invented campaign')
  await dialog.getByLabel('Display').fill('Invented display 7')
  await dialog.getByRole('button', { name: 'Create campaign' }).click()
  await expect(dialog).toBeHidden()
  await page.getByLabel('Setting').fill('Strong')
  await page.getByLabel('Refresh, Hz').fill('144')
}

test('by mouse: dropped files become one measured sweep, which is hidden, restored and exported', async ({
  host,
  page,
}, testInfo) => {
  await openImport(page)
  await dropFiles(recordingsOf(page), await saved(testInfo.outputPath('recordings'), everyPair()))
  await expect(listOf(page).getByRole('option')).toHaveCount(6)
  await expect(page.getByText('6 files, 6 ready')).toBeVisible()
  await expect(page.getByText('Levels are read from all 6 names.')).toBeVisible()
  await listOf(page)
    .getByRole('option', { name: /^panel_128-0_r1\.csv 128 → 0/ })
    .click()
  const plot = page.getByRole('img', { name: /^Trace of panel_128-0_r1\.csv: 4.000 samples at 20\.00 kS\/s/ })
  await expect(plot).toBeVisible()
  await expect(importButton(page)).toBeDisabled()
  await describeSweep(page)
  await importButton(page).click()
  await expect(resultOf(page)).toContainText('Sweep 1: 6 of 6 recordings stored.')
  await expect(resultOf(page)).toContainText('6 transitions measured under')
  // The files are in the archive, so they are not in the list any more.
  await expect(page.getByText('Drop oscilloscope CSV files here')).toBeVisible()

  await resultOf(page).getByRole('link', { name: 'Show sweep 1 on the Bench' }).click()
  const grid = page.getByRole('grid', { name: /Transition duration, ms, sweep 1, Strong at 144 Hz/ })
  await expect(grid.getByRole('gridcell', { name: /: \d+\.\d+ ms/ })).toHaveCount(6)
  for (const [from, to] of PAIRS) {
    const cell = grid.getByRole('gridcell', { name: new RegExp(`^${from} → ${to}: \\d+\\.\\d+ ms`) })
    const shown = Number(/(\d+\.\d+) ms/.exec((await cell.textContent()) ?? '')?.[1])
    expect(Math.abs(shown - DURATION_MS)).toBeLessThan(0.05)
  }

  await page.getByRole('link', { name: 'Import' }).click()
  await resultOf(page).getByRole('link', { name: 'Show the traces of sweep 1' }).click()
  await expect(page.getByRole('grid', { name: /^Captures, 6 matches/ })).toBeVisible()
  await page.getByRole('link', { name: 'Import' }).click()
  await resultOf(page).getByRole('button', { name: 'Hide this import' }).click()
  await expect(resultOf(page)).toContainText('It is hidden')
  await page.getByRole('link', { name: 'Bench' }).click()
  await expect(page.getByRole('region', { name: 'Progress' })).toContainText('No sweep yet')
  await page.getByRole('link', { name: 'Import' }).click()
  await page.getByRole('tab', { name: 'Imported sweeps' }).click()
  await page.getByRole('button', { name: 'Restore sweep 1' }).click()
  await page.getByRole('link', { name: 'Show sweep 1 on the Bench' }).first().click()
  await expect(page.getByRole('button', { name: /Sweep in view$/ })).toContainText('1: Strong, 144 Hz')

  const folder = testInfo.outputPath()
  const exported = (item: string) =>
    nextFile(host, folder, async () => {
      await page.getByRole('button', { name: 'Export…' }).click()
      await page.getByRole('menuitem', { name: item }).click()
    })
  const matrix = await exported('Matrix, CSV')
  expect(matrix.name).toMatch(/^invented-display-7_strong_144hz_10-90-of-luminance-[0-9a-f]{8}_sweep-1_matrix\.csv$/)
  const titles = matrix.bytes.toString().split('\r\n')[0]?.split(',') ?? []
  const durations = matrix.bytes
    .toString()
    .split('\r\n')
    .filter((line) => line.includes(',transition_duration_s,'))
  expect(durations.length).toBe(6)
  for (const line of durations)
    expect(Math.abs(Number(line.split(',')[titles.indexOf('mean')]) * 1000 - DURATION_MS)).toBeLessThan(0.05)
  const captures = await exported('Captures, CSV')
  expect(captures.name).toMatch(/_sweep-1_captures\.csv$/)
  expect(captures.bytes.toString().trim().split('\r\n').length).toBe(7)

  await grid.getByRole('gridcell', { name: /^0 → 255/ }).click()
  const trace = await nextFile(host, folder, () =>
    page.getByRole('button', { name: /^Save the trace of capture \d+ as CSV$/ }).click(),
  )
  expect(trace.name).toMatch(/^invented-display-7_strong_144hz_sweep-1_capture-\d+_0-to-255_r1_a1_trace\.csv$/)
  const [, ...rows] = trace.bytes.toString().trim().split('\r\n')
  expect(rows.length).toBe(4000)
  expect(Number(rows[800]?.split(',')[0])).toBe(0)
  expect(host.problems).toEqual([])
})

test('by keyboard alone: choose, set levels by hand, import, look at the sweep, take it back', async ({
  host,
  page,
}, testInfo) => {
  const paths = await saved(testInfo.outputPath('recordings'), [
    recording('first.csv', 0, 255),
    recording('second.csv', 0, 255),
    recording('third.csv', 255, 0),
  ])
  const press = async (...keys: string[]): Promise<void> => {
    for (const key of keys) await page.keyboard.press(key)
  }
  const reach = async (
    role: 'button' | 'textbox' | 'link' | 'listbox' | 'tab',
    name: string | RegExp,
  ): Promise<void> => {
    const wanted = page.getByRole(role, { name })
    for (let i = 0; i < 80; i++) {
      await page.keyboard.press('Tab')
      const inside = role === 'listbox' ? wanted.locator(':focus') : wanted.and(page.locator(':focus'))
      if ((await inside.count()) > 0) return
    }
    throw new Error(`The keyboard does not reach ${role} ${String(name)}.`)
  }
  await page.getByRole('group', { name: 'Status' }).waitFor()
  await reach('link', 'Import')
  await press('Enter')
  await expect(page.getByText('Drop oscilloscope CSV files here')).toBeVisible()
  await reach('button', 'New campaign')
  await press('Enter')
  await expect(page.getByRole('dialog', { name: 'New campaign' })).toBeVisible()
  await page.keyboard.type('Invented campaign')
  await press('Enter')
  await expect(page.getByRole('dialog')).toBeHidden()
  await reach('textbox', 'Setting')
  await page.keyboard.type('Gentle')
  await reach('textbox', 'Refresh, Hz')
  await page.keyboard.type('60')
  // Listened for before the way there, so that the page is told to hand its chooser over before the key is pressed.
  const chooser = page.waitForEvent('filechooser')
  await reach('button', 'Choose files…')
  await press('Enter')
  await (await chooser).setFiles(paths)
  await expect(page.getByText('3 files, 0 ready, 3 need attention')).toBeVisible()

  await reach('listbox', 'Recordings to import')
  await press('Home', 'Shift+ArrowDown')
  await expect(page.getByText('and 1 more: what you set here is set for all of them.')).toBeVisible()
  await reach('textbox', 'From, code')
  await page.keyboard.type('0')
  await reach('textbox', 'To, code')
  await page.keyboard.type('255')
  await expect(listOf(page).getByRole('option', { name: /second\.csv 0 → 255 repeat 2, by hand/ })).toBeVisible()
  await reach('listbox', 'Recordings to import')
  await press('End')
  await reach('textbox', 'From, code')
  await page.keyboard.type('255')
  await reach('textbox', 'To, code')
  await page.keyboard.type('0')
  await expect(page.getByText('3 files, 3 ready')).toBeVisible()

  // A slip of the hand, and back.
  await reach('listbox', 'Recordings to import')
  await press('Delete')
  await expect(page.getByText('2 files, 2 ready')).toBeVisible()
  await press('Control+z')
  await expect(page.getByText('3 files, 3 ready')).toBeVisible()

  await reach('button', 'Import 3 recordings')
  await press('Enter')
  await expect(resultOf(page)).toContainText('Sweep 1: 3 of 3 recordings stored.')
  await reach('button', 'Hide this import')
  await press('Enter')
  await expect(resultOf(page)).toContainText('It is hidden')
  await press('Enter')
  await expect(resultOf(page).getByRole('button', { name: 'Hide this import' })).toBeVisible()
  await reach('link', 'Show sweep 1 on the Bench')
  await press('Enter')
  await expect(page.getByRole('grid', { name: /sweep 1, Gentle at 60 Hz/ })).toBeVisible()
  expect(host.problems).toEqual([])
})

test('what cannot be read says why and what to do; the good ones are imported and the others stay', async ({
  host,
  page,
}, testInfo) => {
  await page.setViewportSize({ width: 1024, height: 700 })
  await openImport(page)
  const cut = recording('panel_128-0.csv', 128, 0)
  const files = [
    recording('panel_0-128.csv', 0, 128),
    recording('comma_0-255.csv', 0, 255, { delimiter: ';', decimal: ',' }),
    recording('one-column_255-0.csv', 255, 0, { timeColumn: false }),
    recording('nameless.csv', 128, 255),
    {
      name: 'panel_255-128.csv',
      text: recording('', 255, 128).text.replace(/\r\n0\.0100.*\r\n/, '\r\n0.01000000,OVLD\r\n'),
    },
    { ...cut, text: 'Dear all,\r\nplease find the recordings attached.\r\n' },
    PDF,
  ]
  await dropFiles(recordingsOf(page), await saved(testInfo.outputPath('recordings'), files))
  await expect(page.getByText('7 files, 2 ready, 5 need attention')).toBeVisible()
  await expect(page.getByText(/none from nameless\.csv, report\.pdf\./)).toBeVisible()
  const chosen = page.getByRole('tabpanel', { name: 'Chosen recording' })
  const says = async (name: RegExp, problem: RegExp): Promise<void> => {
    await listOf(page).getByRole('option', { name }).click()
    await expect(chosen.getByText(problem)).toBeVisible()
  }
  await says(/^report\.pdf/, /This is not a text file.*Save the recording as CSV text/)
  await says(/^panel_128-0/, /No table of numbers was found.*Save the recording as CSV text/)
  await says(/^panel_255-128/, /Line \d+: the voltage in column 2 reads “OVLD”.*larger input range/)
  await says(/^nameless/, /Its name does not give the levels/)
  await says(/^one-column/, /There is no time column and no sample interval/)

  // 20 kS/s are 50 µs; the recording is ready at once, and back again when it is undone.
  await chosen.getByLabel('Sample interval, µs').fill('50')
  await expect(page.getByText('7 files, 3 ready, 4 need attention')).toBeVisible()
  await page.getByRole('button', { name: 'Undo columns of 1 recording' }).click()
  await expect(page.getByText('7 files, 2 ready, 5 need attention')).toBeVisible()
  await page.getByRole('button', { name: 'Redo' }).click()
  await expect(page.getByText('7 files, 3 ready, 4 need attention')).toBeVisible()
  // The comma between columns was read as what it is; read as a point it makes no sense, and that is said.
  await listOf(page)
    .getByRole('option', { name: /^comma_0-255/ })
    .click()
  await expect(chosen.getByRole('button', { name: /^comma Decimal sign/ })).toBeVisible()
  await expect(chosen.getByRole('img', { name: /20\.00 kS\/s, 0\.01[89] to 3\.20[89] V$/ })).toBeVisible()
  await chosen.getByRole('button', { name: /Decimal sign$/ }).click()
  await page.getByRole('option', { name: 'point' }).click()
  await expect(page.getByText('7 files, 2 ready, 5 need attention')).toBeVisible()
  await chosen.getByRole('button', { name: 'Detect again' }).click()
  await expect(page.getByText('7 files, 3 ready, 4 need attention')).toBeVisible()

  // A pattern of one's own reads other names than common ones.
  await page.getByRole('button', { name: /Levels from file names$/ }).click()
  await page.getByRole('option', { name: 'By a pattern' }).click()
  await page.getByRole('textbox', { name: 'Pattern' }).fill('comma_{from}-{to')
  await expect(page.getByText('Both {from} and {to} are needed.')).toBeVisible()
  await page.getByRole('textbox', { name: 'Pattern' }).fill('comma_{from}-{to}')
  await expect(page.getByText(/Levels are read from 1 of 7 names; none from/)).toBeVisible()
  await page.getByRole('button', { name: /Levels from file names$/ }).click()
  await page.getByRole('option', { name: 'Automatic' }).click()

  await describeSweep(page)
  await page.getByRole('button', { name: 'Light theme' }).click()
  await page.getByRole('button', { name: 'Import 3 of 7 recordings' }).click()
  await expect(resultOf(page)).toContainText('Sweep 1: 3 of 3 recordings stored.')
  await expect(page.getByText('4 files, 0 ready, 4 need attention')).toBeVisible()
  await page.getByRole('tab', { name: 'Imported sweeps' }).click()
  await expect(page.getByRole('table', { name: 'Imported sweeps' })).toContainText('3 of 3')
  expect(await violations(page)).toEqual([])
  // The tests are typed without the DOM, hence the texts.
  const beyond = `(([panel]) => panel.scrollWidth - panel.clientWidth)(document.getElementsByClassName('import-tabs')[0].querySelectorAll('[role=tabpanel]'))`
  expect(await page.evaluate(beyond)).toBe(0)
  // The page is as wide as the window: nothing has to be scrolled sideways.
  expect(await page.evaluate('document.documentElement.scrollWidth')).toBe(1024)
  expect(host.problems).toEqual([])
})

test('a large import shows its progress; cancelled, it leaves nothing in the lists', async ({
  host,
  page,
}, testInfo) => {
  await openImport(page)
  await describeSweep(page)
  const { text } = recording('', 0, 255, { samples: 40_000 })
  const files = Array.from({ length: 80 }, (_, i) => ({ name: `0-255_r${i + 1}.csv`, text }))
  await dropFiles(recordingsOf(page), await saved(testInfo.outputPath('recordings'), files))
  await expect(page.getByText('80 files, 80 ready')).toBeVisible({ timeout: 90_000 })
  // Only what is in sight is drawn.
  expect(await listOf(page).getByRole('option').count()).toBeLessThan(60)
  await importButton(page).click()
  const running = page.getByRole('region', { name: 'Import in progress' })
  await expect(running.getByRole('progressbar')).toBeVisible()
  await expect(running).toContainText(/\d+ of 80/)
  await running.getByRole('button', { name: 'Cancel import' }).click()
  await expect(resultOf(page)).toContainText(/Cancelled/)
  await expect(resultOf(page)).toContainText(/is hidden; it can be restored|Nothing was stored/)
  await expect(page.getByText('80 files, 80 ready')).toBeVisible()
  await page.getByRole('link', { name: 'Bench' }).click()
  await expect(page.getByRole('region', { name: 'Progress' })).toContainText('No sweep yet')
  expect(host.problems).toEqual([])
})
