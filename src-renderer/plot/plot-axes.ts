import type uPlot from 'uplot'
import type { PlotTheme } from './plot-theme.ts'

/** Width of the vertical axis, CSS px: the same in all plots, so that plots one above the other line up. */
const Y_AXIS_PX = 58
const X_AXIS_PX = 30
/** Gutters for the names of levels and crossings, right of a trace, and of instants, above it, CSS px. */
export const RIGHT_GUTTER_PX = 132
export const TOP_GUTTER_PX = 30
/** Right of a plot without a gutter: room for half a tick label. */
export const BARE_RIGHT_PX = 18

export function plotAxis(side: 'x' | 'y', theme: () => PlotTheme): uPlot.Axis {
  return {
    scale: side,
    stroke: () => theme().muted,
    font: `12px ${theme().font}`,
    size: side === 'x' ? X_AXIS_PX : Y_AXIS_PX,
    gap: 4,
    // A low plot has closer ticks rather than one alone.
    space: side === 'x' ? 70 : (_plot, _axis, _low, _high, heightPx) => Math.max(15, Math.min(34, heightPx / 4)),
    grid: { stroke: () => theme().grid, width: 1 },
    ticks: { stroke: () => theme().axis, width: 1, size: 5 },
    values: (_plot, splits) => splits.map((value) => trimmed(value)),
  }
}

/** Tick text without trailing zeros, with a true minus sign. */
function trimmed(value: number): string {
  return String(Number(value.toPrecision(6))).replace('-', '\u2212')
}
