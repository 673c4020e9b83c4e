import * as Plot from '@observablehq/plot'
import { FAINT, INK, seriesStyle, TICKS, xAxis, yAxis } from './style.ts'
import { type FigureElement, type FigureHost, figureWidth, plotSvg } from './svg.ts'

/** Events by their delay, with the even spread over one frame that a frame clock alone would give. Delays in ms. */
export function delayHistogram(
  host: FigureHost,
  delays: readonly number[],
  { frame, mean }: { readonly frame: number; readonly mean: number },
): FigureElement {
  const [low, high] = [Math.min(...delays), Math.max(...delays)]
  const bins = Math.min(40, Math.max(8, Math.round(Math.sqrt(delays.length))))
  const width = (high - low || 1) / bins
  const rows = Array.from({ length: bins }, (_, i) => ({ from: low + i * width, to: low + (i + 1) * width, count: 0 }))
  for (const delay of delays) {
    const row = rows[Math.min(bins - 1, Math.floor((delay - low) / width))]
    if (row !== undefined) row.count++
  }
  const even = (delays.length * width) / frame
  const { colour } = seriesStyle(0)
  return plotSvg(
    host,
    {
      id: 'latency',
      description: `Delays of ${delays.length} events from input to light, with an even spread over one frame.`,
    },
    {
      width: figureWidth(host),
      height: 260,
      marginLeft: 52,
      marginRight: 30,
      marginBottom: 44,
      marginTop: 26,
      x: xAxis('Event to light, ms'),
      y: yAxis('Events'),
      marks: [
        Plot.gridY({ ticks: TICKS, stroke: FAINT, strokeOpacity: 1 }),
        Plot.rectY(rows, { x1: 'from', x2: 'to', y: 'count', fill: colour, fillOpacity: 0.75, insetRight: 1 }),
        Plot.line(
          [
            [mean - frame / 2, 0],
            [mean - frame / 2, even],
            [mean + frame / 2, even],
            [mean + frame / 2, 0],
          ],
          { stroke: INK, strokeWidth: 1.5, strokeDasharray: '6 3' },
        ),
      ],
    },
  )
}
