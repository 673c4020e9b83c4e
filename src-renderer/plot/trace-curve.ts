/** What every chart of a trace has in common: its envelope as two curves with a band between, and reading it. */
import uPlot from 'uplot'
import { plotAxis } from './plot-axes.ts'
import type { PlotTheme } from './plot-theme.ts'

export const EMPTY: uPlot.AlignedData = [new Float64Array(0), new Float32Array(0), new Float32Array(0)]

export interface CursorReading {
  readonly ms: number
  readonly minV: number
  readonly maxV: number
}

/** Options of an envelope over time, ms and V; scales are set by the chart. */
export function envelopeOptions(
  theme: () => PlotTheme,
): Pick<uPlot.Options, 'legend' | 'scales' | 'axes' | 'series' | 'bands'> {
  const curve = (): uPlot.Series => ({
    stroke: () => theme().trace,
    width: 1.25,
    points: { show: false },
    spanGaps: false,
    pxAlign: 0,
  })
  return {
    legend: { show: false },
    scales: { x: { time: false, auto: false }, y: { auto: false } },
    axes: [plotAxis('x', theme), plotAxis('y', theme)],
    series: [{}, curve(), curve()],
    bands: [{ series: [2, 1], fill: () => theme().traceFill }],
  }
}

interface Curve {
  readonly x: Float64Array
  readonly min: Float32Array
  readonly max: Float32Array
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
