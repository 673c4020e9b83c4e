import * as Plot from '@observablehq/plot'
import { WIDTH } from './over-refresh.ts'
import { FAINT, seriesStyle, xAxis, yAxis } from './style.ts'
import { type FigureElement, type FigureHost, plotSvg } from './svg.ts'

export interface Curve {
  readonly name: string
  readonly points: readonly { readonly x: number; readonly y: number }[]
}

export interface CurveText {
  readonly id: string
  readonly description: string
  readonly x: string
  readonly y: string
}

/** Measured points joined by lines, one curve a series; lines guide the eye. A name stands at each curve's last point. */
export function curveFigure(
  host: FigureHost,
  { id, description, x, y }: CurveText,
  curves: readonly Curve[],
  scale: { readonly y?: 'log'; readonly from?: number; readonly level?: number } = {},
): FigureElement {
  const all = curves.flatMap(({ points }) => points).filter((point) => scale.y !== 'log' || point.y > 0)
  const [low, high] = [Math.min(...all.map((point) => point.y)), Math.max(...all.map((point) => point.y))]
  return plotSvg(
    host,
    { id, description },
    {
      width: WIDTH,
      height: 260,
      marginLeft: 62,
      marginRight: 150,
      marginBottom: 44,
      marginTop: 26,
      x: xAxis(x),
      y: {
        ...yAxis(y),
        ...(scale.y === 'log'
          ? { type: 'log', tickFormat: (value: number) => String(Number(value.toPrecision(3))) }
          : { domain: [Math.min(scale.from ?? low, low), high + 0.05 * (high - low || 1)] }),
      },
      marks: [
        Plot.gridY({ stroke: FAINT, strokeOpacity: 1 }),
        ...(scale.level === undefined ? [] : [Plot.ruleY([scale.level], { stroke: FAINT, strokeWidth: 2 })]),
        ...curves.flatMap(({ name, points }, index) => {
          const { colour, dash, symbol } = seriesStyle(index)
          const own = points.filter((point) => scale.y !== 'log' || point.y > 0)
          return [
            Plot.lineY(own, { x: 'x', y: 'y', stroke: colour, strokeWidth: 2, strokeDasharray: dash }),
            Plot.dot(own, { x: 'x', y: 'y', fill: colour, symbol, r: 3.5 }),
            Plot.text(own.slice(-1), {
              x: 'x',
              y: 'y',
              text: () => name,
              textAnchor: 'start',
              dx: 10,
              fill: colour,
              fontWeight: 600,
            }),
          ]
        }),
      ],
    },
  )
}
