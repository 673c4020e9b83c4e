/** Draws what the desk's scene adds to a plain trace: below the curve areas and other curves, above it the blur edge. */
import uPlot from 'uplot'
import { areaOf, paintBand, paintLine } from './curve-painter.ts'
import type { DeskScene } from './desk-scene.ts'
import type { PlotTheme } from './plot-theme.ts'
import { clipped } from './trace-painter.ts'

const LABEL_PX = 12

interface Place {
  readonly x: (ms: number) => number
  readonly y: (volts: number) => number
}

const placeOf = (plot: uPlot): Place => ({
  x: (ms) => plot.valToPos(ms, 'x', true),
  y: (volts) => plot.valToPos(volts, 'y', true),
})

export function paintDeskUnder(plot: uPlot, scene: DeskScene, theme: PlotTheme): void {
  const place = placeOf(plot)
  const view = areaOf(plot)
  const { left, top, width, height } = view
  clipped(plot, (context) => {
    const area = (fromMs: number, toMs: number, fill: string) => {
      const from = Math.max(left, place.x(fromMs))
      const to = Math.min(left + width, Math.max(place.x(toMs), place.x(fromMs) + 2 * uPlot.pxRatio))
      if (to <= from) return
      context.fillStyle = fill
      context.fillRect(from, top, to - from, height)
    }
    for (const window of scene.windows) area(window.fromMs, window.toMs, theme.levelWindow)
    if (scene.shaded !== null) paintShade(plot, context, scene.shaded, place, theme)
    paintFrames(plot, context, scene, place, theme)
    if (scene.raw !== null) {
      context.fillStyle = theme.raw
      context.strokeStyle = theme.raw
      paintBand(context, scene.raw, view, uPlot.pxRatio)
    }
    for (const repeat of scene.repeats) {
      context.strokeStyle = repeat.counts ? theme.repeat : theme.repeatLeftOut
      context.setLineDash(repeat.counts ? [] : [4 * uPlot.pxRatio, 4 * uPlot.pxRatio])
      paintLine(context, repeat.curve, view, uPlot.pxRatio)
    }
    context.setLineDash([])
    if (scene.mean !== null) {
      context.strokeStyle = theme.mean
      paintLine(context, scene.mean, view, 2 * uPlot.pxRatio)
    }
  })
}

/** The span a flag points at keeps a width that can be seen, and edges that do not rest on colour. */
function paintShade(
  plot: uPlot,
  context: CanvasRenderingContext2D,
  shaded: NonNullable<DeskScene['shaded']>,
  place: Place,
  theme: PlotTheme,
): void {
  const { top, height } = plot.bbox
  const ratio = uPlot.pxRatio
  const centre = (place.x(shaded.fromMs) + place.x(shaded.toMs)) / 2
  const half = Math.max((place.x(shaded.toMs) - place.x(shaded.fromMs)) / 2, 3 * ratio)
  context.fillStyle = theme.shade
  context.fillRect(centre - half, top, 2 * half, height)
  context.strokeStyle = theme.shadeEdge
  context.lineWidth = ratio
  for (const x of [centre - half, centre + half]) line(context, x, top, x, top + height)
  const { left, width } = plot.bbox
  if (centre + half < left || centre - half > left + width) return
  context.font = `${LABEL_PX * ratio}px ${theme.font}`
  context.textAlign = 'left'
  context.textBaseline = 'bottom'
  context.fillStyle = theme.shadeEdge
  const textWidth = context.measureText(shaded.label).width
  const at = Math.min(Math.max(centre - half, left), left + width - textWidth - 8 * ratio)
  context.fillText(shaded.label, at + 4 * ratio, top + height - 20 * ratio)
}

/** Ends of refresh periods: a tick at the lower edge and, while there is room, a faint line and the frame's number. */
function paintFrames(
  plot: uPlot,
  context: CanvasRenderingContext2D,
  scene: DeskScene,
  place: Place,
  theme: PlotTheme,
): void {
  const { left, top, width, height } = plot.bbox
  const ratio = uPlot.pxRatio
  const inView = scene.frames.filter(({ ms }) => place.x(ms) >= left - 1 && place.x(ms) <= left + width + 1)
  const distance = scene.frames.length < 2 ? 0 : place.x(scene.frames[1]!.ms) - place.x(scene.frames[0]!.ms)
  context.strokeStyle = theme.frame
  context.lineWidth = ratio
  context.font = `${(LABEL_PX - 1) * ratio}px ${theme.font}`
  context.textAlign = 'center'
  context.textBaseline = 'bottom'
  context.fillStyle = theme.muted
  for (const { ms, frame } of inView) {
    const x = place.x(ms)
    line(context, x, top + height - 9 * ratio, x, top + height)
    if (distance < 26 * ratio || frame < 0) continue
    context.setLineDash([ratio, 5 * ratio])
    line(context, x, top, x, top + height)
    context.setLineDash([])
    // A frame's number stands in its middle: frame 1 begins at onset.
    const middle = x + distance / 2
    if (middle < left + width)
      context.fillText(`frame ${frame + 1}`.slice(distance < 60 * ratio ? 6 : 0), middle, top + height - 1)
  }
}

/** Blur edge: the moving edge, where it passes 10 % and 90 %, and the width between them. */
export function paintDeskOver(plot: uPlot, scene: DeskScene, theme: PlotTheme): void {
  const { blur } = scene
  if (blur === null) return
  const place = placeOf(plot)
  const ratio = uPlot.pxRatio
  const { top, height } = plot.bbox
  clipped(plot, (context) => {
    context.strokeStyle = theme.blur
    context.lineWidth = 2 * ratio
    context.setLineDash([7 * ratio, 3 * ratio])
    context.beginPath()
    for (let i = 0; i < blur.x.length; i += 1)
      context[i === 0 ? 'moveTo' : 'lineTo'](place.x(blur.x[i] as number), place.y(blur.volts[i] as number))
    context.stroke()
    context.setLineDash([])
    context.lineWidth = ratio
    const from = place.x(blur.startMs)
    const to = place.x(blur.endMs)
    line(context, from, top, from, top + height)
    line(context, to, top, to, top + height)
    const bar = top + height - 34 * ratio
    context.lineWidth = 2 * ratio
    line(context, from, bar, to, bar)
    for (const [x, volts] of [
      [from, blur.startV],
      [to, blur.endV],
    ] as const) {
      context.fillStyle = theme.surface
      const size = 4 * ratio
      context.beginPath()
      context.rect(x - size, place.y(volts) - size, 2 * size, 2 * size)
      context.fill()
      context.stroke()
    }
    context.font = `${LABEL_PX * ratio}px ${theme.font}`
    context.textBaseline = 'top'
    context.textAlign = 'center'
    const textWidth = context.measureText(blur.label).width
    const middle = (from + to) / 2
    context.globalAlpha = 0.78
    context.fillStyle = theme.surface
    context.fillRect(middle - textWidth / 2 - 3 * ratio, bar + 2 * ratio, textWidth + 6 * ratio, (LABEL_PX + 3) * ratio)
    context.globalAlpha = 1
    context.fillStyle = theme.blur
    context.fillText(blur.label, middle, bar + 4 * ratio)
  })
}

function line(context: CanvasRenderingContext2D, x0: number, y0: number, x1: number, y1: number): void {
  context.beginPath()
  context.moveTo(x0, y0)
  context.lineTo(x1, y1)
  context.stroke()
}
