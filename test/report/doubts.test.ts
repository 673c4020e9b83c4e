import { describe, expect, it } from 'vitest'
import type { CampaignReportInput } from '#shared/report/campaign-input.ts'
import type { ReportTable } from '#shared/report/document.ts'
import { budgetSection } from '#shared/report/doubts.ts'
import { FIGURE_IDS, type FigureId, type MeasuredPoint } from '#shared/findings/campaign/figures.ts'

const empty = Object.fromEntries(FIGURE_IDS.map((id) => [id, null])) as Record<FigureId, null>
const point = (u: number, dof: number, shared: number): MeasuredPoint => ({
  sweepId: 1,
  setting: 'Gentle',
  refreshHz: 60,
  figures: { ...empty, duration_mean: { value: 0.005, u, dof, shared } },
})

describe('the budget of a report', () => {
  it('prints what U95 is made of: its own columns give it again', () => {
    const points = [point(100e-6, 4, 60e-6), point(100e-6, 4, 0)]
    const table = budgetSection({ points } as unknown as CampaignReportInput).blocks.find(
      (block): block is ReportTable => block.kind === 'table',
    )
    expect(table?.columns.map(({ heading }) => heading)).toContain('Effective degrees of freedom')
    // 97.5 % points of Student's distribution by scipy.stats.t.ppf, at the degrees of freedom printed.
    const factors: Readonly<Record<string, number>> = { '7.4': 2.338_958, '4.0': 2.776_445 }
    for (const row of table?.rows ?? []) {
      const [u, shared, dof, u95] = row.slice(2) as [string, string, string, string]
      const again = (factors[dof] ?? Number.NaN) * Math.hypot(Number(u), Number(shared))
      expect(Math.abs(Number(u95) / again - 1)).toBeLessThan(0.001)
    }
    expect(table?.rows.map((row) => row[4])).toEqual(['7.4', '4.0'])
  })
})
