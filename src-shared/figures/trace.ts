import * as Plot from '@observablehq/plot'
import { FAINT, INK, LIMIT, seriesStyle, TICKS, xAxis, yAxis } from './style.ts'
import { type FigureElement, type FigureHost, type FigureText, figureWidth, plotSvg } from './svg.ts'

export interface TraceFigureMark {
  readonly label: string
  readonly timeMs: number
}

/**
 * A recorded step as its min/max envelope, time from onset in ms and light in percent of the step. Labels of the marks
 * stand in a row above the plot, never over the curve.
 */
export function traceFigure(
  host: FigureHost,
  text: FigureText,
  envelope: readonly { readonly timeMs: number; readonly lowPct: number; readonly highPct: number }[],
  marks: readonly TraceFigureMark[],
  frameMs: number | null,
): FigureElement {
  const { colour } = seriesStyle(0)
  return plotSvg(host, text, {
    width: figureWidth(host),
    height: 250,
    marginTop: 34,
    marginLeft: 52,
    marginBottom: 42,
    marginRight: 20,
    x: xAxis('Time from onset, ms'),
    y: yAxis('Light, % of the step'),
    marks: [
      Plot.gridY({ ticks: TICKS, stroke: FAINT, strokeOpacity: 1 }),
      ...(frameMs === null
        ? []
        : [Plot.ruleX([0, frameMs], { stroke: INK, strokeOpacity: 0.6, strokeDasharray: '2 3' })]),
      Plot.areaY(envelope, {
        x: 'timeMs',
        y1: 'lowPct',
        y2: 'highPct',
        fill: colour,
        stroke: colour,
        strokeWidth: 1.2,
      }),
      ...marks.map(({ timeMs }) => Plot.ruleX([timeMs], { stroke: LIMIT, strokeWidth: 1 })),
      Plot.text(marks, {
        x: 'timeMs',
        text: 'label',
        frameAnchor: 'top',
        dy: -12,
        fill: LIMIT,
        fontSize: 12,
      }),
    ],
  })
}
