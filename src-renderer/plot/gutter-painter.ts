/** Draws the names of what a plot marks into the gutters beside it, tied to their places by thin lines. */
import uPlot from 'uplot'
import { RIGHT_GUTTER_PX } from './plot-axes.ts'
import type { PlotTheme } from './plot-theme.ts'
import { spreadLabels } from './spread-labels.ts'

/** 12 px, the least size of text anywhere. */
const LABEL_PX = 12
const ROW_PX = 16
/** From the plot to a label: a piece on the level of the place, and one that leads to the label's own. */
const LEADER_PX = 14

export interface GutterLabel {
  readonly text: string
  readonly colour: string
  /** Place on the axis beside the gutter, canvas px. */
  readonly at: number
}

export function labelFont(theme: PlotTheme): string {
  return `${LABEL_PX * uPlot.pxRatio}px ${theme.font}`
}

/** Names right of the plot, the first ones first where room is short. */
export function paintRightGutter(plot: uPlot, labels: readonly GutterLabel[], theme: PlotTheme): void {
  const { ctx, bbox } = plot
  const ratio = uPlot.pxRatio
  const right = bbox.left + bbox.width
  const shown = labels.filter(({ at }) => at >= bbox.top - 1 && at <= bbox.top + bbox.height + 1)
  const size = ROW_PX * ratio
  const middles = spreadLabels(
    shown.map(({ at }) => ({ at, size })),
    bbox.top - size / 2,
    bbox.top + bbox.height + size / 2,
  )
  const textAt = right + (LEADER_PX + 3) * ratio
  ctx.save()
  ctx.font = labelFont(theme)
  ctx.textAlign = 'left'
  ctx.textBaseline = 'middle'
  ctx.lineWidth = ratio
  shown.forEach((label, i) => {
    const middle = middles[i] ?? null
    if (middle === null) return
    ctx.strokeStyle = label.colour
    ctx.beginPath()
    ctx.moveTo(right, label.at)
    ctx.lineTo(right + 3 * ratio, label.at)
    ctx.lineTo(right + (LEADER_PX - 3) * ratio, middle)
    ctx.lineTo(right + LEADER_PX * ratio, middle)
    ctx.stroke()
    ctx.fillStyle = label.colour
    ctx.fillText(label.text, textAt, middle, (RIGHT_GUTTER_PX - LEADER_PX - 6) * ratio)
  })
  ctx.restore()
}

/** Names above the plot, in a row whose lower edge is `rowsPx` above the plotting area (CSS px). */
export function paintTopGutter(plot: uPlot, labels: readonly GutterLabel[], theme: PlotTheme, rowsPx: number): void {
  const { ctx, bbox } = plot
  const ratio = uPlot.pxRatio
  const shown = labels.filter(({ at }) => at >= bbox.left - 1 && at <= bbox.left + bbox.width + 1)
  ctx.save()
  ctx.font = labelFont(theme)
  ctx.textAlign = 'center'
  ctx.textBaseline = 'middle'
  ctx.lineWidth = ratio
  const middles = spreadLabels(
    shown.map(({ text, at }) => ({ at, size: ctx.measureText(text).width + 12 * ratio })),
    bbox.left,
    bbox.left + bbox.width + RIGHT_GUTTER_PX * ratio,
  )
  const rowEnd = bbox.top - rowsPx * ratio
  shown.forEach((label, i) => {
    const middle = middles[i] ?? null
    if (middle === null) return
    ctx.strokeStyle = label.colour
    ctx.beginPath()
    ctx.moveTo(middle, rowEnd - 11 * ratio)
    ctx.lineTo(label.at, rowEnd - 3 * ratio)
    ctx.lineTo(label.at, bbox.top)
    ctx.stroke()
    ctx.fillStyle = label.colour
    ctx.fillText(label.text, middle, rowEnd - 19 * ratio)
  })
  ctx.restore()
}
