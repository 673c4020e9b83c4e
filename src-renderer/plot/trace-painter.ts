/** Draws a scene's marks on the chart's canvas: areas below the curve, lines and points above it, names beside it. */
import uPlot from 'uplot'
import { paintRightGutter, paintTopGutter, type GutterLabel } from './gutter-painter.ts'
import type { PlotTheme } from './plot-theme.ts'
import type { SceneInstant, ScenePoint, TraceScene } from './trace-scene.ts'

export function clipped(plot: uPlot, paint: (context: CanvasRenderingContext2D) => void): void {
  const { ctx, bbox } = plot
  ctx.save()
  ctx.beginPath()
  ctx.rect(bbox.left, bbox.top, bbox.width, bbox.height)
  ctx.clip()
  paint(ctx)
  ctx.restore()
}

/** Refresh window, bands and the limits of the input, below the curve. */
export function paintUnder(plot: uPlot, scene: TraceScene | null, theme: PlotTheme): void {
  if (scene === null) return
  const x = (ms: number) => plot.valToPos(ms, 'x', true)
  const y = (volts: number) => plot.valToPos(volts, 'y', true)
  clipped(plot, (context) => {
    const { top, height, left, width } = plot.bbox
    const between = (a: number, b: number) => [Math.max(left, a), Math.min(left + width, b)] as const
    if (scene.window !== null) {
      const [from, to] = between(x(scene.window.fromMs), x(scene.window.toMs))
      context.fillStyle = theme.window
      if (to > from) context.fillRect(from, top, to - from, height)
    }
    for (const band of scene.bands) {
      const [from, to] = between(x(band.fromMs), x(band.toMs))
      if (to <= from) continue
      context.fillStyle = band.kind === 'start' ? theme.startBand : theme.endBand
      const upper = y(band.highV)
      context.fillRect(from, upper, to - from, Math.max(uPlot.pxRatio, y(band.lowV) - upper))
    }
    context.strokeStyle = theme.limit
    context.setLineDash([2 * uPlot.pxRatio, 6 * uPlot.pxRatio])
    if (scene.rangeV !== null)
      for (const volts of [scene.rangeV, -scene.rangeV]) horizontal(context, left, left + width, y(volts))
  })
}

function horizontal(context: CanvasRenderingContext2D, from: number, to: number, at: number): void {
  context.beginPath()
  context.moveTo(from, at)
  context.lineTo(to, at)
  context.stroke()
}

/**
 * Level lines, instants, crossings and excursions above the curve; their names in the gutters. `more`: further names
 * above the plot; `rowsPx`: height of the rows between those names and the plot, CSS px.
 */
export function paintMarks(
  plot: uPlot,
  scene: TraceScene | null,
  theme: PlotTheme,
  more: readonly GutterLabel[] = [],
  rowsPx = 0,
): void {
  if (scene === null) return
  const ratio = uPlot.pxRatio
  const x = (ms: number) => plot.valToPos(ms, 'x', true)
  const y = (volts: number) => plot.valToPos(volts, 'y', true)
  const { left, top, width, height } = plot.bbox
  const inView = (ms: number) => x(ms) >= left && x(ms) <= left + width
  const instants = scene.instants.filter(({ ms }) => inView(ms))
  const points = scene.points.filter(({ ms }) => inView(ms))
  clipped(plot, (context) => {
    context.lineWidth = ratio
    context.strokeStyle = theme.level
    context.setLineDash([6 * ratio, 4 * ratio])
    for (const level of scene.levels) horizontal(context, left, left + width, y(level.volts))
    for (const instant of instants) {
      context.strokeStyle = instantColour(instant.kind, theme)
      context.setLineDash(instant.kind === 'onset' ? [] : [3 * ratio, 3 * ratio])
      context.beginPath()
      context.moveTo(x(instant.ms), top)
      context.lineTo(x(instant.ms), top + height)
      context.stroke()
    }
    context.setLineDash([])
    // From a point to its name in the gutter.
    context.lineWidth = 0.75 * ratio
    for (const point of points) {
      context.strokeStyle = theme.level
      context.setLineDash([ratio, 3 * ratio])
      horizontal(context, x(point.ms), left + width, y(point.volts))
    }
    context.setLineDash([])
    context.lineWidth = ratio
    for (const point of points) drawPoint(context, x(point.ms), y(point.volts), point.kind, theme, ratio)
  })
  paintRightGutter(
    plot,
    [
      // Excursions first: they are what must not go unseen.
      ...points
        .toSorted((a, b) => Number(a.kind === 'crossing') - Number(b.kind === 'crossing'))
        .map(({ label, kind, volts }) => ({ text: label, colour: pointColour(kind, theme), at: y(volts) })),
      ...scene.levels.map(({ label, volts }) => ({ text: label, colour: theme.level, at: y(volts) })),
    ],
    theme,
  )
  paintTopGutter(
    plot,
    [
      ...instants.map(({ label, kind, ms }) => ({ text: label, colour: instantColour(kind, theme), at: x(ms) })),
      ...more,
    ],
    theme,
    rowsPx,
  )
}

function instantColour(kind: SceneInstant['kind'], theme: PlotTheme): string {
  return { onset: theme.onset, arrival: theme.arrival, settled: theme.settled }[kind]
}

function pointColour(kind: ScenePoint['kind'], theme: PlotTheme): string {
  return kind === 'crossing' ? theme.crossing : theme.excursion
}

/** Crossings are rings, excursions are triangles: told apart without colour. */
function drawPoint(
  context: CanvasRenderingContext2D,
  x: number,
  y: number,
  kind: ScenePoint['kind'],
  theme: PlotTheme,
  ratio: number,
): void {
  context.strokeStyle = pointColour(kind, theme)
  context.fillStyle = theme.surface
  context.lineWidth = 1.75 * ratio
  context.beginPath()
  if (kind === 'crossing') context.arc(x, y, 4 * ratio, 0, 2 * Math.PI)
  else {
    const size = 5.5 * ratio
    context.moveTo(x, y - size)
    context.lineTo(x + size, y + size * 0.8)
    context.lineTo(x - size, y + size * 0.8)
    context.closePath()
  }
  context.fill()
  context.stroke()
  context.lineWidth = ratio
}
