import * as Plot from '@observablehq/plot'
import { seriesStyle, xAxis } from './style.ts'
import { type FigureElement, type FigureHost, figureWidth, plotSvg } from './svg.ts'

/** Power of each picture measured, its luminance beside it. */
export function powerBars(
  host: FigureHost,
  rows: readonly { readonly pattern: string; readonly watts: number; readonly luminance: number }[],
): FigureElement {
  const { colour } = seriesStyle(0)
  return plotSvg(
    host,
    { id: 'power', description: 'Power of each picture that was measured.' },
    {
      width: figureWidth(host),
      height: 58 + 30 * rows.length,
      marginLeft: 170,
      marginRight: 170,
      marginBottom: 44,
      marginTop: 10,
      x: { ...xAxis('Power, W'), zero: true },
      y: { domain: rows.map(({ pattern }) => pattern), label: null, tickSize: 0 },
      marks: [
        Plot.barX(rows, { x: 'watts', y: 'pattern', fill: colour, fillOpacity: 0.75, insetTop: 4, insetBottom: 4 }),
        Plot.text(rows, {
          x: 'watts',
          y: 'pattern',
          text: ({ watts, luminance }: { watts: number; luminance: number }) => `${watts} W at ${luminance} cd/m²`,
          textAnchor: 'start',
          dx: 6,
        }),
      ],
    },
  )
}
