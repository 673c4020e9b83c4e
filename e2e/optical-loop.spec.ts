/**
 * The nearest thing to a bench that a machine can have: the real stimulus window on a real (virtual) screen, the
 * simulated photodiode looking at that screen's pixels, the panel model behind it, bytes over a pseudo-terminal. The
 * matrix must equal the one taken without any screen, within the uncertainty of both.
 */
import { expect } from 'playwright/test'
import { createCampaign, fillPlan, startSweep, sweepState } from './operator.ts'
import { opticalTest, slewlight, withOpticalBench } from './virtual-bench.ts'

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

opticalTest('a sweep through the real stimulus window equals the headless one', async ({ hostKind }, testInfo) => {
  const rig = ['--refresh', '60', '--setting', 'Strong', '--seed', '3']
  await withOpticalBench(hostKind, testInfo, rig, async (bench) => {
    const target = ['--archive', bench.file('optical.sqlite'), ...bench.through]
    if (hostKind === 'browser') {
      const options = ['--stimulus', 'page', '--i-understand-flashing', '--json']
      const { run } = await bench.commandWithPage(['sweep', ...target, ...PLAN, ...options])
      expect(await run.ended, run.output()).toBe(0)
    } else {
      const { page, close } = await bench.desktop(target)
      await createCampaign(page, 'Invented campaign')
      await fillPlan(page, { Setting: 'Strong', Levels: '0, 128, 255', Repeats: '5' })
      await startSweep(page)
      await sweepState(page, /30 \/ 30/)
      await sweepState(page, /Finished/i)
      await close()
    }

    const headless = slewlight(['sweep', ...PLAN, '--archive', bench.file('headless.sqlite'), '--seed', '4', '--json'])
    expect(await headless.ended).toBe(0)

    const optical = await cellsOf(bench.file('optical.sqlite'))
    const plain = await cellsOf(bench.file('headless.sqlite'))
    expect(optical.length).toBe(6)
    let squares = 0
    for (const cell of optical) {
      const other = plain.find((one) => one.from_code === cell.from_code && one.to_code === cell.to_code)
      expect(cell.n).toBe(5)
      const [mean, otherMean] = [cell.mean_s ?? NaN, other?.mean_s ?? NaN]
      const allowed = Math.hypot(cell.u95_s ?? NaN, other?.u95_s ?? NaN)
      process.stdout.write(
        `  ${cell.from_code} → ${cell.to_code}: ${(mean * 1e3).toFixed(3)} ms through the screen, ${(otherMean * 1e3).toFixed(3)} ms headless, U95 of the difference ${(allowed * 1e3).toFixed(3)} ms\n`,
      )
      squares += ((mean - otherMean) / allowed) ** 2 / 6
    }
    // Six differences in units of their U95, s pooled with 24 degrees of freedom: their root mean square is more than 1.79
    // by chance once in a million times, √F(6, 24; 10⁻⁶) ÷ t(24; 2.5 %), by scipy.stats.
    expect(Math.sqrt(squares)).toBeLessThan(1.79)
  })
})
