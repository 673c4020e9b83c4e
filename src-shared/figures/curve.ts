import * as Plot from '@observablehq/plot'
import { apart } from './labels.ts'
import { FAINT, INK, seriesStyle, TICKS, xAxis, yAxis } from './style.ts'
import { type FigureElement, type FigureHost, figureWidth, plotSvg } from './svg.ts'

export interface Curve {
  readonly name: string
  readonly points: readonly { readonly x: number; readonly y: number }[]
  /** Which series style it has; its place among the curves when not said. */
  readonly look?: number
}

export interface CurveText {
  readonly id: string
  readonly description: string
  readonly x: string
  readonly y: string
}

/** Of the plotting area, and between two names beside it. */
const HEIGHT_PX = 260
const TOP_PX = 26
const BOTTOM_PX = 216
const NAME_PX = 15

/** Measured points joined by lines, one curve a series; lines guide the eye. A name stands at each curve's last point. */
export function curveFigure(
  host: FigureHost,
  { id, description, x, y }: CurveText,
  curves: readonly Curve[],
  scale: { readonly y?: 'log'; readonly from?: number; readonly level?: number } = {},
): FigureElement {
  const all = curves.flatMap(({ points }) => points).filter((point) => scale.y !== 'log' || point.y > 0)
  const [low, high] = [Math.min(...all.map((point) => point.y)), Math.max(...all.map((point) => point.y))]
  const domain = [Math.min(scale.from ?? low, low), high + 0.05 * (high - low || 1)] as const
  const shareOf = (value: number): number =>
    scale.y === 'log'
      ? Math.log(value / low) / (Math.log(high / low) || 1)
      : (value - domain[0]) / (domain[1] - domain[0])
  const ends = curves.map(({ points }) => {
    const last = points.findLast((point) => scale.y !== 'log' || point.y > 0)
    return last === undefined ? BOTTOM_PX : BOTTOM_PX + (TOP_PX - BOTTOM_PX) * shareOf(last.y)
  })
  const names = apart(ends, NAME_PX, TOP_PX, BOTTOM_PX)
  return plotSvg(
    host,
    { id, description },
    {
      width: figureWidth(host),
      height: HEIGHT_PX,
      marginLeft: 62,
      marginRight: 150,
      marginBottom: HEIGHT_PX - BOTTOM_PX,
      marginTop: TOP_PX,
      x: xAxis(x),
      y: {
        ...yAxis(y),
        ...(scale.y === 'log'
          ? { type: 'log', tickFormat: (value: number) => String(Number(value.toPrecision(3))) }
          : { domain }),
      },
      marks: [
        Plot.gridY({ ticks: TICKS, stroke: FAINT, strokeOpacity: 1 }),
        ...(scale.level === undefined
          ? []
          : [Plot.ruleY([scale.level], { stroke: INK, strokeOpacity: 0.7, strokeWidth: 1.5, strokeDasharray: '6 3' })]),
        ...curves.flatMap(({ name, points, look }, index) => {
          const { colour, dash, symbol } = seriesStyle(look ?? index)
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
              dy: (names[index] ?? 0) - (ends[index] ?? 0),
              fill: colour,
              fontWeight: 600,
            }),
          ]
        }),
      ],
    },
  )
}
