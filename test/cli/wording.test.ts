/** What people read on the command line: options by their names, labels with units, uncertainties to two digits. */
import { describe, expect, it } from 'vitest'
import { sweepPlanSchema, DEFAULT_PLAN } from '#shared/domain/plan.ts'
import { problemsOf } from '#main/cli/options.ts'
import { cellsText } from '#main/cli/matrix-text.ts'
import { labelWithUnit, valueWithU } from '#main/cli/quantities.ts'
import { cellStatistics } from '#shared/findings/matrix.ts'
import { run } from './in-process.ts'

describe('what the command line says', () => {
  it('names the option of a wrong plan, not the field of a schema', () => {
    const wrong = sweepPlanSchema.safeParse({ ...DEFAULT_PLAN, preS: 9, setting: '' })
    const words = problemsOf(wrong.error!, { preS: '--pre' })
    expect(words).toBe('--setting is empty. --pre is too large: at most 5.')
  })

  it('says a rule of the plan as the sentence it is', async () => {
    const { err } = await run(['sweep', '--levels', '0', '--spacing', '0.01', '--post', '0.25'])
    expect(err).not.toMatch(/levels: |spacingS|Too small|expected/)
  })

  it('calls a measure by its label and unit', () => {
    expect(labelWithUnit('transition_duration_s')).toBe('Transition duration, ms')
  })

  it('gives a mean with its uncertainty to two significant digits', () => {
    const entries = [5.31, 5.33, 5.35, 5.3, 5.32].map((ms, i) => ({
      captureId: i + 1,
      repeat: i + 1,
      values: { transition_duration_s: ms / 1000 },
      uncertainties: { transition_duration_s: 1e-5 },
      common: { transition_duration_s: 0 },
      flagCount: 0,
      excluded: false,
      overridden: false,
    }))
    const data = { sweepId: 1, recipeHash: '', levels: [0, 255], cells: [{ from: 0, to: 255, entries }], unmeasured: 0 }
    // Mean 5.322, s 0.01924, t(4) = 2.776 (NIST TN 1297 table B.1): U95 = 2.776 × 0.01924 ÷ √5 = 0.0239.
    expect(cellsText(cellStatistics(data, 'transition_duration_s', 5), 'transition_duration_s')).toContain(
      '5.322 ± 0.024 ms',
    )
  })

  it('gives a value the decimals of its uncertainty, and a yes or no its word', () => {
    expect(valueWithU('transition_duration_s', 0.0134512, 1.751e-5)).toEqual(['13.451', '± 0.018'])
    expect(valueWithU('noise_v', 0.00153, 2.892e-5)).toEqual(['0.001530', '± 0.000029'])
    expect(valueWithU('in_window', 0, undefined)).toEqual(['no', ''])
    expect(valueWithU('overshoot_pct', null, undefined)).toEqual(['–', ''])
  })

  it('gives examples that a shell takes as they are, and no empty default', async () => {
    const findings = (await run(['findings', '--help'])).out
    expect(findings).toContain('--limit "overshoot_mean<=5"')
    expect(findings).not.toMatch(/--limit [a-z_]+[<>]/)
    const record = (await run(['record', '--help'])).out
    expect(record).not.toMatch(/default: (""|\[\])/)
    expect(record).toContain('(default: 255)')
  })

  it('groups commands and options', async () => {
    const { out } = await run(['--help'])
    for (const group of ['Measure:', 'Campaigns and captures:', 'Analyse:', 'Publish:', 'Tools:'])
      expect(out).toContain(`\n${group}`)
    const sweep = (await run(['sweep', '--help'])).out
    for (const group of ['Plan:', 'Rig:', 'Campaign and recipe:', 'Output and running:'])
      expect(sweep).toContain(`\n${group}`)
  })
})
