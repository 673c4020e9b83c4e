import * as Plot from '@observablehq/plot'
import type { Estimate } from '#shared/findings/campaign/estimate.ts'
import { intervalOf } from '#shared/findings/campaign/figures.ts'
import type { Ranking } from '#shared/findings/campaign/ranks.ts'
import { FAINT, seriesStyle, xAxis } from './style.ts'
import { type FigureElement, type FigureHost, figureWidth, plotSvg } from './svg.ts'

/** What displays are ranked by; `better` null where neither end is, so that no rank is written. */
export interface RankedFigure {
  readonly id: string
  readonly label: string
  readonly unit: string
  readonly better: 'low' | 'high' | null
}

/** Displays in order of one figure, U95 as a bar, the range of ranks each may have beside it. */
export function rankingFigure(
  host: FigureHost,
  { id, label, unit, better }: RankedFigure,
  entries: readonly { readonly name: string; readonly estimate: Estimate }[],
  ranking: Pick<Ranking, 'ranked'>,
): FigureElement {
  const scale = unit === 's' ? 1000 : 1
  const rows = entries
    .map(({ name, estimate }, i) => {
      const { low, high } = intervalOf(id, estimate)
      const { best, worst } = ranking.ranked[i] as Ranking['ranked'][number]
      const rank = best === worst ? String(best) : `${best}–${worst}`
      return {
        name,
        value: estimate.value * scale,
        low: low * scale,
        high: high * scale,
        rank: better === null ? '' : `rank ${rank}`,
      }
    })
    .sort((a, b) => (better === 'high' ? b.value - a.value : a.value - b.value))
  const { colour } = seriesStyle(0)
  return plotSvg(
    host,
    {
      id: `ranking-${id.replaceAll('_', '-')}`,
      description: `${label} of the displays compared, ${better === null ? 'smallest' : 'best'} first.`,
    },
    {
      width: figureWidth(host),
      height: 58 + 30 * rows.length,
      marginLeft: 170,
      marginRight: 90,
      marginBottom: 44,
      marginTop: 10,
      x: { ...xAxis(unit === '1' ? label : `${label}, ${unit === 's' ? 'ms' : unit}`), zero: true, nice: true },
      y: { domain: rows.map(({ name }) => name), label: null, tickSize: 0 },
      marks: [
        Plot.gridX({ stroke: FAINT, strokeOpacity: 1 }),
        Plot.ruleY(rows, { y: 'name', x1: 'low', x2: 'high', stroke: colour, strokeWidth: 3 }),
        Plot.dot(rows, { y: 'name', x: 'value', fill: colour, r: 5 }),
        Plot.text(rows, { y: 'name', text: 'rank', frameAnchor: 'right', textAnchor: 'start', dx: 10 }),
      ],
    },
  )
}
