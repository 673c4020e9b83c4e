import 'uplot/dist/uPlot.min.css'
import './plot.css'
import { memo, useEffect } from 'react'
import uPlot from 'uplot'
import { BARE_RIGHT_PX, plotAxis, RIGHT_GUTTER_PX } from './plot-axes.ts'
import type { PlotTheme } from './plot-theme.ts'
import { useChart, type SelfDrawn, type Size } from './use-chart.ts'
import type { Span } from './view-moves.ts'

export interface LinePlotProps {
  /** Ascending; `low` and `high` are as long and may be equal. */
  readonly x: Float64Array
  readonly low: Float32Array
  readonly high: Float32Array
  /** What is in view; null fits the data. */
  readonly span: Span | null
  /** Draws a line at zero and keeps it in view. */
  readonly aboutZero: boolean
  /** Stands under a trace and shares its times: as wide as the trace with its gutter. */
  readonly underTrace?: boolean
  readonly description: string
}

/** A small plot of one line, or of a band between two, under or beside the large one. */
export const LinePlot = memo(function LinePlot(props: LinePlotProps) {
  const { x, low, high, span, aboutZero, underTrace = false, description } = props
  const { holder, chart } = useChart((element, size, theme) =>
    lineChart(element, size, theme, underTrace ? RIGHT_GUTTER_PX : BARE_RIGHT_PX),
  )

  useEffect(() => {
    const made = chart.current?.plot
    if (made === undefined) return
    made.batch(() => {
      made.setData([x, low, high], false)
      const [min, max] = span ?? [x[0] ?? 0, x[x.length - 1] ?? 1]
      made.setScale('x', { min, max })
      const [bottom, top] = extentIn(x, low, high, [min, max], aboutZero)
      made.setScale('y', { min: bottom, max: top })
    })
  }, [chart, x, low, high, span, aboutZero])

  return <div ref={holder} className="line-plot" role="img" aria-label={description} />
})

/** Extent of what is in view with a margin; a plot about zero is symmetric. */
function extentIn(x: Float64Array, low: Float32Array, high: Float32Array, span: Span, aboutZero: boolean): Span {
  let bottom = Infinity
  let top = -Infinity
  for (let i = 0; i < x.length; i += 1) {
    const at = x[i] as number
    if (at < span[0] || at > span[1]) continue
    bottom = Math.min(bottom, low[i] as number)
    top = Math.max(top, high[i] as number)
  }
  if (!(bottom <= top)) return [0, 1]
  if (aboutZero) {
    const reach = 1.1 * Math.max(Math.abs(bottom), Math.abs(top), 1e-9)
    return [-reach, reach]
  }
  return [Math.min(0, bottom), top > 0 ? 1.08 * top : 1]
}

function lineChart(
  element: HTMLElement,
  size: Size,
  first: PlotTheme,
  rightPx: number,
): SelfDrawn & { readonly plot: uPlot } {
  let theme = first
  const plot = new uPlot(
    optionsOf(size, () => theme, rightPx),
    [[], [], []],
    element,
  )
  return {
    plot,
    setTheme: (next) => {
      theme = next
      plot.redraw(false, true)
    },
    resize: (next) => plot.setSize(next),
    destroy: () => plot.destroy(),
  }
}

function optionsOf(size: Size, theme: () => PlotTheme, rightPx: number): uPlot.Options {
  const line = (): uPlot.Series => ({
    stroke: () => theme().trace,
    width: 1,
    points: { show: false },
    pxAlign: 0,
  })
  return {
    ...size,
    padding: [6, rightPx, 0, 0],
    legend: { show: false },
    scales: { x: { time: false, auto: false }, y: { auto: false } },
    axes: [plotAxis('x', theme), { ...plotAxis('y', theme), space: 18 }],
    series: [{}, line(), line()],
    bands: [{ series: [2, 1], fill: () => theme().traceFill }],
    cursor: { show: false },
    hooks: { draw: [(plot) => zeroLine(plot, theme())] },
  }
}

function zeroLine(plot: uPlot, theme: PlotTheme): void {
  const { ctx, bbox } = plot
  const at = plot.valToPos(0, 'y', true)
  if (at < bbox.top || at > bbox.top + bbox.height) return
  ctx.save()
  ctx.strokeStyle = theme.axis
  ctx.lineWidth = uPlot.pxRatio
  ctx.beginPath()
  ctx.moveTo(bbox.left, at)
  ctx.lineTo(bbox.left + bbox.width, at)
  ctx.stroke()
  ctx.restore()
}
