import { parseHTML } from 'linkedom'
import { describe, expect, it } from 'vitest'
import { DEFAULT_RECIPE } from '#shared/domain/recipe.ts'
import { DEFAULT_LIMITS, FIGURE_IDS, type FigureId, type MeasuredPoint } from '#shared/findings/campaign/figures.ts'
import { recordOf } from '#main/core/campaign/findings.ts'
import { campaignReport } from '#shared/report/campaign-report.ts'

const host = { document: parseHTML('<!doctype html><html><body></body></html>').document }
const empty = Object.fromEntries(FIGURE_IDS.map((id) => [id, null])) as Record<FigureId, null>
const estimate = (value: number, u: number) => ({ value, u, dof: 1e9, shared: 0 })
const point = (sweepId: number, setting: string, duration: number, share: number): MeasuredPoint => ({
  sweepId,
  setting,
  refreshHz: 60,
  figures: {
    ...empty,
    duration_mean: estimate(duration, 1e-5),
    in_window_share: estimate(share, 4.6),
    overshoot_mean: estimate(duration === 0.005 ? 1 : 9, 0.05),
  },
})

const report = campaignReport(host, {
  display: 'Invented display',
  campaign: 'Bench',
  note: '',
  invented: true,
  points: [point(1, 'Gentle', 0.005, 5), point(2, 'Strong', 0.004, 60)],
  limits: DEFAULT_LIMITS,
  weighting: 'equal',
  matrices: [],
  worst: [],
  edges: [],
  record: recordOf([], []),
  strobe: [],
  recipe: DEFAULT_RECIPE,
  recipeHash: 'abc123',
  algorithm: '3',
  version: '1',
  counts: { captures: 4, flagged: 0, excluded: 0, missing: 0 },
  rigs: ['simulated, serial 1', 'bench 2'],
  drifts: [],
  takenFrom: '2031-01-01T10:00:02.000Z',
  takenTo: '2031-01-01T10:00:40.000Z',
})
const blocksOf = (id: string) => report.sections.find((section) => section.id === id)?.blocks ?? []

describe('the report of a campaign', () => {
  it('gives a share cut at 0 % by the ends of its interval, any other with its U95', () => {
    // 1.959964 · 4.6 = 9.0.
    const cells = blocksOf('overview').flatMap((block) => (block.kind === 'table' ? block.rows.flat() : []))
    expect(cells.map((cell) => cell.replaceAll('\u00a0', ' '))).toEqual(
      expect.arrayContaining(['5 (0 to 14)', '60 ± 9']),
    )
  })

  it('tells several differences of one pair as a list under the pair', () => {
    const [lead, list] = blocksOf('findings')
    expect(lead).toEqual({ kind: 'paragraph', text: 'Strong against Gentle:' })
    expect(list).toMatchObject({ kind: 'list' })
    expect(list?.kind === 'list' ? list.items.length : 0).toBeGreaterThan(1)
  })

  it('names the recipe’s fingerprint in its method, the minute once, and no rig simulated twice', () => {
    expect(report.subtitle).not.toContain('abc123')
    expect(JSON.stringify(blocksOf('method'))).toContain('fingerprint abc123, algorithm version 3')
    const [told] = blocksOf('provenance')
    expect(told?.kind === 'list' ? told.items : []).toEqual(
      expect.arrayContaining([
        'Taken at 2031-01-01 10:00, UTC.',
        'Rig: simulated, serial 1',
        'Rig: bench 2 (simulated)',
      ]),
    )
  })
})
