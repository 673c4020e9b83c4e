/** Draws a scene's marks on the chart's canvas: areas below the curve, lines, points and labels above it. */
import uPlot from 'uplot'
import { placeLabels, type LabelRequest } from './label-layout.ts'
import type { PlotTheme } from './plot-theme.ts'
import type { SceneInstant, ScenePoint, TraceScene } from './trace-scene.ts'

const LABEL_PX = 12.5

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
    for (const volts of [scene.rangeV, -scene.rangeV]) horizontal(context, left, left + width, y(volts))
  })
}

function horizontal(context: CanvasRenderingContext2D, from: number, to: number, at: number): void {
  context.beginPath()
  context.moveTo(from, at)
  context.lineTo(to, at)
  context.stroke()
}

/** Level lines, instants, crossings and excursions with their labels, above the curve. */
export function paintMarks(plot: uPlot, scene: TraceScene | null, theme: PlotTheme): void {
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
    for (const point of points) drawPoint(context, x(point.ms), y(point.volts), point.kind, theme, ratio)

    context.font = `${LABEL_PX * ratio}px ${theme.font}`
    context.textAlign = 'left'
    context.textBaseline = 'middle'
    const labels = [
      ...points.map((point) => ({
        text: point.label,
        colour: pointColour(point.kind, theme),
        x: x(point.ms),
        y: y(point.volts),
        sides: sidesOf(point.kind),
      })),
      ...instants.map((instant) => ({
        text: instant.label,
        colour: instantColour(instant.kind, theme),
        x: x(instant.ms),
        y: top,
        sides: ['top-right', 'top-left'] as const,
      })),
      ...scene.levels.map((level) => ({
        text: level.label,
        colour: theme.level,
        x: left + width,
        y: y(level.volts) - 8 * ratio,
        sides: ['left'] as const,
      })),
    ]
    const requests: LabelRequest[] = labels.map((label) => ({
      x: label.x,
      y: label.y,
      sides: label.sides,
      width: context.measureText(label.text).width + 6 * ratio,
      height: (LABEL_PX + 3) * ratio,
    }))
    const marks = points.map((point) => ({
      left: x(point.ms) - 5 * ratio,
      top: y(point.volts) - 5 * ratio,
      width: 10 * ratio,
      height: 10 * ratio,
    }))
    const boxes = placeLabels(requests, { left, top, width, height }, 7 * ratio, marks)
    labels.forEach((label, i) => {
      const box = boxes[i]
      if (box === null || box === undefined) return
      context.globalAlpha = 0.78
      context.fillStyle = theme.surface
      context.fillRect(box.left, box.top, box.width, box.height)
      context.globalAlpha = 1
      context.fillStyle = label.colour
      context.fillText(label.text, box.left + 3 * ratio, box.top + box.height / 2)
    })
  })
}

function sidesOf(kind: ScenePoint['kind']): LabelRequest['sides'] {
  if (kind === 'overshoot') return ['above', 'below', 'right']
  if (kind === 'undershoot') return ['below', 'above', 'right']
  return ['right', 'left']
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
