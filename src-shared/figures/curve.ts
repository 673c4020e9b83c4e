import * as Plot from '@observablehq/plot'
import { apart } from './labels.ts'
import { WIDTH } from './over-refresh.ts'
import { FAINT, seriesStyle, xAxis, yAxis } from './style.ts'
import { type FigureElement, type FigureHost, plotSvg } from './svg.ts'

const [HEIGHT, MARGIN_TOP, MARGIN_BOTTOM] = [260, 26, 44]
/** Height of a label, px. */
const LINE_PX = 15

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
  const bottom = scale.y === 'log' ? low : Math.min(scale.from ?? low, low)
  const top = scale.y === 'log' ? high : high + 0.05 * (high - low || 1)
  const [along, back] = scale.y === 'log' ? [Math.log, Math.exp] : [Number, Number]
  const drawn = curves.map(({ points }) => points.filter((point) => scale.y !== 'log' || point.y > 0))
  const ends = drawn.map((own) => along(own.at(-1)?.y ?? bottom))
  const gap = (LINE_PX / (HEIGHT - MARGIN_TOP - MARGIN_BOTTOM)) * (along(top) - along(bottom))
  const labelled = apart(ends, gap, along(bottom), along(top)).map(back)
  return plotSvg(
    host,
    { id, description },
    {
      width: WIDTH,
      height: HEIGHT,
      marginLeft: 62,
      marginRight: 150,
      marginBottom: MARGIN_BOTTOM,
      marginTop: MARGIN_TOP,
      x: xAxis(x),
      y: {
        ...yAxis(y),
        ...(scale.y === 'log'
          ? { type: 'log', tickFormat: (value: number) => String(Number(value.toPrecision(3))) }
          : { domain: [bottom, top] }),
      },
      marks: [
        Plot.gridY({ stroke: FAINT, strokeOpacity: 1 }),
        ...(scale.level === undefined ? [] : [Plot.ruleY([scale.level], { stroke: FAINT, strokeWidth: 2 })]),
        ...curves.flatMap(({ name }, index) => {
          const { colour, dash, symbol } = seriesStyle(index)
          const own = drawn[index] ?? []
          return [
            Plot.lineY(own, { x: 'x', y: 'y', stroke: colour, strokeWidth: 2, strokeDasharray: dash }),
            Plot.dot(own, { x: 'x', y: 'y', fill: colour, symbol, r: 3.5 }),
            Plot.text(own.slice(-1), {
              x: 'x',
              y: () => labelled[index] ?? bottom,
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
