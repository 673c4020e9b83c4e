/** Draws what the desk's scene adds to a plain trace: areas and other curves below it, rulers above the plot, the blur edge. */
import uPlot from 'uplot'
import { areaOf, paintBand, paintLine } from './curve-painter.ts'
import type { DeskBlur, DeskScene } from './desk-scene.ts'
import { labelFont, type GutterLabel } from './gutter-painter.ts'
import { RIGHT_GUTTER_PX } from './plot-axes.ts'
import type { PlotTheme } from './plot-theme.ts'
import { clearOf } from './spread-labels.ts'
import { clipped } from './trace-painter.ts'

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
    if (scene.other !== null) {
      context.strokeStyle = theme.other
      paintLine(context, scene.other, view, 1.5 * uPlot.pxRatio)
    }
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
}

/** Faint lines at the ends of refresh periods, while there is room between them. */
function paintFrames(
  plot: uPlot,
  context: CanvasRenderingContext2D,
  scene: DeskScene,
  place: Place,
  theme: PlotTheme,
): void {
  const { top, height } = plot.bbox
  const ratio = uPlot.pxRatio
  if (frameWidth(scene, place) < 26 * ratio) return
  context.strokeStyle = theme.frame
  context.lineWidth = ratio
  context.setLineDash([ratio, 5 * ratio])
  for (const { ms } of scene.frames) line(context, place.x(ms), top, place.x(ms), top + height)
  context.setLineDash([])
}

const frameWidth = ({ frames }: DeskScene, place: Place): number =>
  frames.length < 2 ? 0 : place.x(frames[1]!.ms) - place.x(frames[0]!.ms)

/** Rows between the names above the plot and the plot itself, from above; CSS px. */
const CURSOR_ROW_PX = 24
const BLUR_ROW_PX = 18
const FRAME_ROW_PX = 17

/** Height of these rows, CSS px. Cursors, where there are any, have the upper one. */
export function rowsPxOf(scene: DeskScene | null): number {
  if (scene === null) return 0
  return (
    (scene.cursors ? CURSOR_ROW_PX : 0) +
    (scene.blur === null ? 0 : BLUR_ROW_PX) +
    (scene.frames.length === 0 ? 0 : FRAME_ROW_PX)
  )
}

/** What the desk names above the plot beside the instants: the samples a flag points at. */
export function namesAbove(plot: uPlot, scene: DeskScene, theme: PlotTheme): readonly GutterLabel[] {
  if (scene.shaded === null) return []
  const { left, width } = plot.bbox
  const { x } = placeOf(plot)
  const [from, to] = [Math.max(x(scene.shaded.fromMs), left), Math.min(x(scene.shaded.toMs), left + width)]
  return to < from ? [] : [{ text: scene.shaded.label, colour: theme.shadeEdge, at: (from + to) / 2 }]
}

/** Refresh periods as a ruler above the plot, and the blur edge: the moving edge, and the width it passes 10 to 90 % in. */
export function paintDeskOver(plot: uPlot, scene: DeskScene, theme: PlotTheme): void {
  const place = placeOf(plot)
  if (scene.frames.length > 0) paintRuler(plot, scene, place, theme)
  if (scene.blur !== null) {
    const { blur } = scene
    const above = scene.frames.length === 0 ? 0 : FRAME_ROW_PX
    clipped(plot, (context) => paintMovingEdge(plot, context, blur, place, theme))
    paintBlurWidth(plot, blur, place, theme, above + BLUR_ROW_PX / 2)
  }
}

/** The first frame begins at onset. */
function paintRuler(plot: uPlot, scene: DeskScene, place: Place, theme: PlotTheme): void {
  const { ctx, bbox } = plot
  const ratio = uPlot.pxRatio
  const [left, right] = [bbox.left, bbox.left + bbox.width]
  const [upper, lower] = [bbox.top - (FRAME_ROW_PX - 1) * ratio, bbox.top - 2 * ratio]
  const width = frameWidth(scene, place)
  ctx.save()
  // Lines of instants pass behind it.
  ctx.fillStyle = theme.surface
  ctx.fillRect(left, upper, right - left, lower - upper)
  ctx.font = labelFont(theme)
  ctx.textAlign = 'center'
  ctx.textBaseline = 'middle'
  ctx.strokeStyle = theme.frame
  ctx.lineWidth = ratio
  const instants = scene.base.instants.map(({ ms }) => place.x(ms))
  for (const { ms, frame } of scene.frames) {
    const from = Math.max(left, place.x(ms))
    const to = Math.min(right, place.x(ms) + width)
    if (to <= from) continue
    if (frame >= 0 && frame % 2 === 0) {
      ctx.fillStyle = theme.window
      ctx.fillRect(from, upper, to - from, lower - upper)
    }
    if (place.x(ms) >= left) line(ctx, from, upper, from, lower)
    if (frame < 0 || to - from <= 24 * ratio) continue
    const text = to - from > 54 * ratio ? `frame ${frame + 1}` : String(frame + 1)
    const half = ctx.measureText(text).width / 2 + 4 * ratio
    ctx.fillStyle = theme.muted
    ctx.fillText(text, clearOf(instants, from, to, half), (upper + lower) / 2)
  }
  ctx.restore()
}

function paintMovingEdge(
  plot: uPlot,
  context: CanvasRenderingContext2D,
  blur: DeskBlur,
  place: Place,
  theme: PlotTheme,
): void {
  const ratio = uPlot.pxRatio
  const { top, height } = plot.bbox
  context.strokeStyle = theme.blur
  context.lineWidth = 2 * ratio
  context.setLineDash([7 * ratio, 3 * ratio])
  context.beginPath()
  for (let i = 0; i < blur.x.length; i += 1)
    context[i === 0 ? 'moveTo' : 'lineTo'](place.x(blur.x[i] as number), place.y(blur.volts[i] as number))
  context.stroke()
  context.setLineDash([])
  context.lineWidth = ratio
  for (const [ms, volts] of [
    [blur.startMs, blur.startV],
    [blur.endMs, blur.endV],
  ] as const) {
    const x = place.x(ms)
    line(context, x, top, x, top + height)
    context.fillStyle = theme.surface
    const size = 4 * ratio
    context.beginPath()
    context.rect(x - size, place.y(volts) - size, 2 * size, 2 * size)
    context.fill()
    context.stroke()
  }
}

/** The width as a dimension above the plot, its number beside it; `abovePx`: middle of its row above the plot, CSS px. */
function paintBlurWidth(plot: uPlot, blur: DeskBlur, place: Place, theme: PlotTheme, abovePx: number): void {
  const { ctx, bbox } = plot
  const ratio = uPlot.pxRatio
  const [left, right] = [bbox.left, bbox.left + bbox.width]
  const [from, to] = [Math.max(left, place.x(blur.startMs)), Math.min(right, place.x(blur.endMs))]
  if (to <= from) return
  const middle = bbox.top - abovePx * ratio
  ctx.save()
  ctx.strokeStyle = theme.blur
  ctx.lineWidth = 1.5 * ratio
  line(ctx, from, middle, to, middle)
  // What goes on beyond the view has no end there.
  for (const ms of [blur.startMs, blur.endMs]) {
    const x = place.x(ms)
    if (x >= left && x <= right) line(ctx, x, middle - 5 * ratio, x, middle + 5 * ratio)
  }
  ctx.font = labelFont(theme)
  ctx.textBaseline = 'middle'
  const length = ctx.measureText(blur.label).width
  const fits = to + length + 8 * ratio < right + RIGHT_GUTTER_PX * ratio
  const start = fits ? to + 7 * ratio : from - 7 * ratio - length
  // Lines of instants pass behind its name.
  ctx.fillStyle = theme.surface
  ctx.fillRect(start - 2 * ratio, middle - 7 * ratio, length + 4 * ratio, 14 * ratio)
  ctx.fillStyle = theme.blur
  ctx.textAlign = 'left'
  ctx.fillText(blur.label, start, middle)
  ctx.restore()
}

function line(context: CanvasRenderingContext2D, x0: number, y0: number, x1: number, y1: number): void {
  context.beginPath()
  context.moveTo(x0, y0)
  context.lineTo(x1, y1)
  context.stroke()
}
