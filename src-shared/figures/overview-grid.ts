import * as Plot from '@observablehq/plot'
import { decimalsFor, fixed, hertz } from '#shared/domain/quantity-text.ts'
import { u95Of } from '#shared/findings/campaign/estimate.ts'
import { type FigureId, FIGURES } from '#shared/findings/campaign/figures.ts'
import type { SettingRange } from '#shared/findings/campaign/usable-range.ts'
import { FAINT, INK, LIMIT } from './style.ts'
import { type FigureElement, type FigureHost, plotSvg } from './svg.ts'

const VERDICT_MARK = { usable: '', 'not-usable': '✕', 'cannot-tell': '?' } as const
const CELL_WIDTH = 104
const CELL_HEIGHT = 52

/**
 * Settings × refresh: the number of every sweep with its U95, and by shape whether it is usable under the limits:
 * a frame for usable, a cross for not usable, a question mark where the measurements cannot tell.
 */
export function overviewGrid(host: FigureHost, id: FigureId, ranges: readonly SettingRange[]): FigureElement {
  const { label, unit } = FIGURES[id]
  const scale = unit === 's' ? 1000 : 1
  const cells = ranges.flatMap(({ setting, points }) =>
    points.map(({ point, verdict }) => {
      const estimate = point.figures[id]
      const u95 = estimate === null ? null : u95Of(estimate)
      const decimals = u95 === null || u95 === 0 ? 1 : decimalsFor(u95 * scale, 3)
      return {
        setting,
        rate: hertz(point.refreshHz),
        verdict,
        value: estimate === null ? 'no value' : fixed(estimate.value * scale, decimals),
        u95: u95 === null ? '' : `± ${fixed(u95 * scale, decimals)}`,
      }
    }),
  )
  const rates = [...new Set(ranges.flatMap(({ points }) => points.map(({ point }) => point.refreshHz)))]
    .sort((a, b) => a - b)
    .map(hertz)
  return plotSvg(
    host,
    {
      id: `overview-${id.replaceAll('_', '-')}`,
      description: `${label} of every setting at every refresh rate measured, and whether it is usable.`,
    },
    {
      width: 130 + CELL_WIDTH * rates.length,
      height: 48 + CELL_HEIGHT * ranges.length,
      marginLeft: 120,
      marginTop: 40,
      marginBottom: 8,
      marginRight: 10,
      x: { domain: rates, axis: 'top', label: 'Refresh, Hz', tickSize: 0, padding: 0.06, labelArrow: 'none' },
      y: { domain: ranges.map(({ setting }) => setting), label: null, tickSize: 0, padding: 0.1 },
      marks: [
        Plot.cell(cells, {
          x: 'rate',
          y: 'setting',
          fill: 'none',
          stroke: ({ verdict }: { verdict: string }) => (verdict === 'usable' ? INK : FAINT),
          strokeWidth: 1.5,
          rx: 3,
        }),
        Plot.text(cells, { x: 'rate', y: 'setting', text: 'value', dy: -7, fontWeight: 600, fontSize: 15 }),
        Plot.text(cells, { x: 'rate', y: 'setting', text: 'u95', dy: 11, fontSize: 12 }),
        Plot.text(cells, {
          x: 'rate',
          y: 'setting',
          text: ({ verdict }: { verdict: keyof typeof VERDICT_MARK }) => VERDICT_MARK[verdict],
          dx: CELL_WIDTH / 2 - 16,
          dy: -CELL_HEIGHT / 2 + 16,
          fontWeight: 700,
          fill: LIMIT,
        }),
      ],
    },
  )
}
