import * as Plot from '@observablehq/plot'
import type { Uniformity } from '#shared/light/uniformity.ts'
import { FAINT, INK } from './style.ts'
import { type FigureElement, type FigureHost, plotSvg } from './svg.ts'

/** Luminance at each place over the brightest, printed; the darkest is framed. */
export function uniformityMap(host: FigureHost, { map, rows, columns }: Uniformity): FigureElement {
  const cells = map.flatMap((values, row) => values.map((share, column) => ({ row, column, share })))
  const least = Math.min(...cells.map(({ share }) => share))
  return plotSvg(
    host,
    { id: 'uniformity', description: `Luminance at ${rows} × ${columns} places in percent of the brightest.` },
    {
      width: 90 * columns + 20,
      height: 62 * rows + 20,
      marginLeft: 10,
      marginRight: 10,
      marginTop: 10,
      marginBottom: 10,
      x: { type: 'band', axis: null, padding: 0.04 },
      y: { type: 'band', axis: null, padding: 0.04 },
      marks: [
        Plot.cell(cells, {
          x: 'column',
          y: 'row',
          fill: 'var(--fig-series-1)',
          fillOpacity: ({ share }: { share: number }) => 0.08 + 0.4 * Math.max(0, (share - 0.5) / 0.5),
          stroke: ({ share }: { share: number }) => (share === least ? INK : FAINT),
          strokeWidth: ({ share }: { share: number }) => (share === least ? 2.5 : 1),
          rx: 3,
        }),
        Plot.text(cells, {
          x: 'column',
          y: 'row',
          text: ({ share }: { share: number }) => `${(100 * share).toFixed(1)} %`,
          fontWeight: 600,
        }),
      ],
    },
  )
}
