/**
 * The nearest thing to a bench that a machine can have: the real stimulus window on a real (virtual) screen, the
 * simulated photodiode looking at that screen's pixels, the panel model behind it, bytes over a pseudo-terminal. The
 * matrix must equal the one taken without any screen, within the uncertainty of both.
 */
import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { _electron, expect, test, type ElectronApplication, type Page } from 'playwright/test'
import type { HostOptions } from './fixtures.ts'
import { createCampaign, fillPlan, setUp, startSweep, sweepState } from './operator.ts'
import { electronPath, ROOT } from './processes.ts'
import { HEIGHT, kioskBrowser, missing, skipLacking, slewlight, virtualScreen, WIDTH } from './virtual-bench.ts'

const PLAN = [
  '--setting',
  'Strong',
  '--refresh',
  '60',
  '--levels',
  '0,128,255',
  '--repeats',
  '5',
  '--pre',
  '0.1',
  '--post',
  '0.4',
]

interface Cell {
  readonly from_code: number
  readonly to_code: number
  readonly n: number
  readonly mean_s: number | null
  readonly u95_s: number | null
}

async function cellsOf(archive: string): Promise<Cell[]> {
  const shown = slewlight(['show', 'sweep', '1', '--archive', archive, '--json'])
  expect(await shown.ended).toBe(0)
  const report: { cells: Cell[] } = JSON.parse(shown.output())
  return report.cells
}

const at = test.extend<object, HostOptions>({ hostKind: ['browser', { option: true, scope: 'worker' }] })

at('a sweep through the real stimulus window equals the headless one', async ({ hostKind }, testInfo) => {
  at.setTimeout(240_000)
  skipLacking(missing(hostKind), testInfo)
  const folder = mkdtempSync(join(tmpdir(), 'slewlight-optical-'))
  const file = (name: string): string => join(folder, name)
  const ends: (() => Promise<void>)[] = [async () => rmSync(folder, { recursive: true, force: true })]
  try {
    const { display, screen } = await virtualScreen(file('fb'))
    ends.unshift(() => screen.stop())
    const eye = `xvfb:${file('fb')}/Xvfb_screen0,${WIDTH / 2 - 1},${HEIGHT / 2 - 1},2`
    const rig = slewlight([
      'rig-sim',
      '--pty',
      file('rig'),
      '--eye',
      eye,
      '--refresh',
      '60',
      '--setting',
      'Strong',
      '--seed',
      '3',
    ])
    ends.unshift(() => rig.stop())
    await rig.said(/Simulated rig/)

    const through = ['--rig', file('rig'), '--baud', '4000000']
    if (hostKind === 'browser') {
      const sweep = slewlight([
        'sweep',
        ...through,
        '--stimulus',
        'page',
        '--i-understand-flashing',
        ...PLAN,
        '--archive',
        file('optical.sqlite'),
        '--json',
      ])
      ends.unshift(() => sweep.stop())
      const address = await sweep.said(/http:\/\/127\.0\.0\.1:\d+\/stimulus[^\s"]*/)
      const context = await kioskBrowser(file('profile'), display)
      ends.unshift(() => context.close())
      const page = context.pages()[0] ?? (await context.newPage())
      await page.goto(address)
      await page.getByRole('button', { name: 'Start full screen' }).click()
      expect(await sweep.ended, sweep.output()).toBe(0)
    } else {
      const electronBinary = electronPath()
      const { ELECTRON_RUN_AS_NODE: _asNode, ...env } = process.env
      const electron = await _electron.launch({
        timeout: 90_000,
        executablePath: 'path' in electronBinary ? electronBinary.path : '',
        args: [
          '--no-sandbox',
          '--disable-gpu',
          `--user-data-dir=${file('profile')}`,
          ROOT,
          '--archive',
          file('optical.sqlite'),
          '--rig',
          file('rig'),
          '--baud',
          '4000000',
        ],
        env: { ...(env as Record<string, string>), DISPLAY: display },
      })
      ends.unshift(() => electron.close())
      await sweepInWindow(await electron.firstWindow({ timeout: 90_000 }), electron)
      await electron.close()
      ends.shift()
    }

    const headless = slewlight(['sweep', ...PLAN, '--archive', file('headless.sqlite'), '--seed', '4', '--json'])
    expect(await headless.ended).toBe(0)

    const optical = await cellsOf(file('optical.sqlite'))
    const plain = await cellsOf(file('headless.sqlite'))
    expect(optical.length).toBe(6)
    for (const cell of optical) {
      const other = plain.find((one) => one.from_code === cell.from_code && one.to_code === cell.to_code)
      expect(cell.n).toBe(5)
      const [mean, otherMean] = [cell.mean_s ?? NaN, other?.mean_s ?? NaN]
      const allowed = Math.hypot(cell.u95_s ?? NaN, other?.u95_s ?? NaN)
      process.stdout.write(
        `  ${cell.from_code} → ${cell.to_code}: ${(mean * 1e3).toFixed(3)} ms through the screen, ${(otherMean * 1e3).toFixed(3)} ms headless, U95 of the difference ${(allowed * 1e3).toFixed(3)} ms\n`,
      )
      // Six cells at 95 % each: one of them may lie outside by chance, none by twice the interval.
      expect(Math.abs(mean - otherMean)).toBeLessThan(2 * allowed)
    }
    const outside = optical.filter((cell) => {
      const other = plain.find((one) => one.from_code === cell.from_code && one.to_code === cell.to_code)
      return (
        Math.abs((cell.mean_s ?? NaN) - (other?.mean_s ?? NaN)) > Math.hypot(cell.u95_s ?? NaN, other?.u95_s ?? NaN)
      )
    })
    expect(outside.length).toBeLessThanOrEqual(1)
  } finally {
    for (const end of ends) await end()
  }
})

/** The operator's way in the desktop application: stimulus window, campaign, plan, warning, start. */
async function sweepInWindow(page: Page, electron: ElectronApplication): Promise<void> {
  await page.waitForLoadState('domcontentloaded')
  await setUp(page)
  await page.getByRole('radio', { name: 'A real screen' }).click()
  const opened = electron.waitForEvent('window')
  await page.getByRole('button', { name: /^Open (window|again)$/ }).click()
  await opened
  await page.keyboard.press('Escape')
  await createCampaign(page, 'Invented campaign')
  await fillPlan(page, { Setting: 'Strong', Levels: '0, 128, 255', Repeats: '5' })
  await startSweep(page)
  await sweepState(page, /30 \/ 30/, 150_000)
  await sweepState(page, /Finished/i, 20_000)
}
