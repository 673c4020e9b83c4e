import * as Plot from '@observablehq/plot'
import { hertz } from '#shared/domain/quantity-text.ts'
import {
  type FigureId,
  FIGURES,
  intervalOf,
  type Limits,
  type MeasuredPoint,
} from '#shared/findings/campaign/figures.ts'
import { apart } from './labels.ts'
import { FAINT, LIMIT, PAPER, seriesStyle, xAxis } from './style.ts'
import { type FigureElement, type FigureHost, figureWidth, plotSvg } from './svg.ts'

const HEIGHT = 340
const MARGIN = { marginTop: 30, marginRight: 120, marginBottom: 44, marginLeft: 58 }

const TICKS = 6

interface Row {
  readonly setting: string
  readonly refreshHz: number
  readonly value: number
  readonly low: number
  readonly high: number
}

/** Numbers of figures are stored in s or percent and shown in ms or percent. */
export const shownPer = (id: FigureId): number => (FIGURES[id].unit === 's' ? 1000 : 1)

function rowsOf(id: FigureId, points: readonly MeasuredPoint[]): Row[] {
  const scale = shownPer(id)
  return points.flatMap(({ setting, refreshHz, figures }) => {
    const estimate = figures[id]
    if (estimate === null) return []
    const { low, high } = intervalOf(id, estimate)
    return [{ setting, refreshHz, value: estimate.value * scale, low: low * scale, high: high * scale }]
  })
}

/** What the vertical axis holds, in shown units: every value with its U95, zero, and a limit (stored unit) if there is one. */
export function overRefreshDomain(
  id: FigureId,
  points: readonly MeasuredPoint[],
  limit: number | null,
): readonly [number, number] {
  const rows = rowsOf(id, points)
  if (rows.length === 0) return [0, 1]
  const limitAt = limit === null ? 0 : limit * shownPer(id)
  const top = Math.max(...rows.map(({ high }) => high), limitAt, 0)
  const bottom = Math.min(...rows.map(({ low }) => low), limitAt, 0)
  return [bottom, top + 0.06 * (top - bottom || 1)]
}

/** Where the plotting area lies within the figure: from its sides in px, from top and bottom as shares of its height. */
export const PLOT_AREA = {
  left: MARGIN.marginLeft,
  right: MARGIN.marginRight,
  top: MARGIN.marginTop / HEIGHT,
  bottom: MARGIN.marginBottom / HEIGHT,
} as const

/**
 * One figure of merit over refresh, one line a setting, U95 as a band. Lines join measured rates to guide the eye;
 * nothing is claimed between them. A setting's name stands at its last point.
 */
export function overRefreshFigure(
  host: FigureHost,
  id: FigureId,
  points: readonly MeasuredPoint[],
  limits: Limits,
  given?: readonly [number, number],
): FigureElement {
  const { label, unit } = FIGURES[id]
  const shownUnit = unit === 's' ? 'ms' : unit
  const settings = [...new Set(points.map(({ setting }) => setting))]
  const rows = rowsOf(id, points)
  const limit = limits[id]
  const limitAt = limit === undefined ? null : limit.value * shownPer(id)
  const domain = [...(given ?? overRefreshDomain(id, points, limit?.value ?? null))] as [number, number]
  const rates = [...new Set(rows.map(({ refreshHz }) => refreshHz))].sort((a, b) => a - b)
  const ends = settings.flatMap((setting, index) => {
    const own = rows.filter((row) => row.setting === setting).sort((a, b) => a.refreshHz - b.refreshHz)
    const last = own.at(-1)
    return last === undefined ? [] : [{ setting, index, last }]
  })
  const perPixel = (domain[1] - domain[0]) / (HEIGHT - MARGIN.marginTop - MARGIN.marginBottom)
  const places = apart(
    ends.map(({ last }) => last.value),
    17 * perPixel,
    domain[0],
    domain[1],
  )
  const right = Math.max(...rates, 0)
  return plotSvg(
    host,
    {
      id: `over-refresh-${id.replaceAll('_', '-')}`,
      description: `${label} over refresh rate, one line for each setting.`,
    },
    {
      width: figureWidth(host),
      height: HEIGHT,
      ...MARGIN,
      x: {
        ...xAxis('Refresh, Hz'),
        ticks: rates,
        tickFormat: (hz: number) => hertz(hz),
      },
      y: { label: `${label}, ${shownUnit}`, domain, labelArrow: 'none', ticks: TICKS },
      marks: [
        Plot.gridY({ ticks: TICKS, stroke: FAINT, strokeOpacity: 1 }),
        ...(limitAt === null
          ? []
          : [
              Plot.ruleY([limitAt], { stroke: LIMIT, strokeWidth: 1.5, strokeDasharray: '6 3' }),
              Plot.text([limitAt], {
                y: (value: number) => value,
                text: () => `limit: at ${limit?.bound === 'at-most' ? 'most' : 'least'} ${limitAt} ${shownUnit}`,
                frameAnchor: 'left',
                textAnchor: 'start',
                dx: 6,
                dy: -8,
                fill: LIMIT,
                stroke: PAPER,
                strokeWidth: 4,
              }),
            ]),
        ...settings.flatMap((setting, index) => {
          const { colour, dash, symbol } = seriesStyle(index)
          const own = rows.filter((row) => row.setting === setting).sort((a, b) => a.refreshHz - b.refreshHz)
          return [
            Plot.areaY(own, { x: 'refreshHz', y1: 'low', y2: 'high', fill: colour, fillOpacity: 0.18 }),
            Plot.ruleX(own, { x: 'refreshHz', y1: 'low', y2: 'high', stroke: colour, strokeWidth: 1.5 }),
            Plot.lineY(own, { x: 'refreshHz', y: 'value', stroke: colour, strokeWidth: 2, strokeDasharray: dash }),
            Plot.dot(own, { x: 'refreshHz', y: 'value', fill: colour, symbol, r: 4.5 }),
          ]
        }),
        ...ends.map(({ setting, index, last }, i) =>
          Plot.text([{ x: right, y: places[i] as number, at: last.value }], {
            x: 'x',
            y: 'y',
            text: () => setting,
            textAnchor: 'start',
            dx: 12,
            fill: seriesStyle(index).colour,
            fontWeight: 600,
          }),
        ),
      ],
    },
  )
}
