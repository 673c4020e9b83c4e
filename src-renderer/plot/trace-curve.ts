/** What every chart of a trace has in common: its envelope as two curves with a band between, and reading it. */
import uPlot from 'uplot'
import { areaOf, paintBand } from './curve-painter.ts'
import type { Curve } from './pixel-curve.ts'
import { plotAxis } from './plot-axes.ts'
import type { PlotTheme } from './plot-theme.ts'
import { clipped } from './trace-painter.ts'

const TRACE_PX = 1.5
export const EMPTY: uPlot.AlignedData = [new Float64Array(0), new Float32Array(0), new Float32Array(0)]

export interface CursorReading {
  readonly ms: number
  readonly minV: number
  readonly maxV: number
}

/** Options of an envelope over time, ms and V; scales are set by the chart. */
export function envelopeOptions(theme: () => PlotTheme): Pick<uPlot.Options, 'legend' | 'scales' | 'axes' | 'series'> {
  // The chart paints its curve itself; the series give the cursor something to read.
  const curve = (): uPlot.Series => ({ paths: () => null, points: { show: false } })
  return {
    legend: { show: false },
    scales: { x: { time: false, auto: false }, y: { auto: false } },
    axes: [plotAxis('x', theme), plotAxis('y', theme)],
    series: [{}, curve(), curve()],
  }
}

/** The trace itself, between what lies under it and its marks. */
export function paintTrace(plot: uPlot, curve: Curve | null, theme: PlotTheme): void {
  if (curve === null) return
  clipped(plot, (context) => {
    context.strokeStyle = theme.trace
    context.fillStyle = theme.traceFill
    paintBand(context, curve, areaOf(plot), TRACE_PX * uPlot.pxRatio)
  })
}

/** The curve under the pointer; null while it is elsewhere. */
export function readingAt(plot: uPlot, curve: Curve | null): CursorReading | null {
  const { idx, left } = plot.cursor
  const at = idx ?? -1
  const ms = curve?.x[at]
  const minV = curve?.min[at]
  const maxV = curve?.max[at]
  const shown = left !== undefined && left >= 0 && ms !== undefined && minV !== undefined && maxV !== undefined
  return shown ? { ms, minV, maxV } : null
}
