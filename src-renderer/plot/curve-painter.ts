/** Draws envelopes on a plot's canvas. */
import type uPlot from 'uplot'
import { pixelCurve, type Curve, type PixelCurve, type PlotArea } from './pixel-curve.ts'

export function areaOf(plot: uPlot): PlotArea {
  const { x, y } = plot.scales
  return {
    ...plot.bbox,
    xMin: x?.min ?? 0,
    xMax: x?.max ?? 1,
    yMin: y?.min ?? 0,
    yMax: y?.max ?? 1,
  }
}

/** An envelope as a band with its outline, or as a line where it is thinner than a pixel. */
export function paintBand(context: CanvasRenderingContext2D, curve: Curve, area: PlotArea, widthPx: number): void {
  const pixels = pixelCurve(curve, area)
  if (pixels.spread < 1) {
    strokeFine(context, through(pixels), widthPx)
    return
  }
  const outline = around(pixels)
  context.fill(outline)
  strokeFine(context, outline, widthPx)
}

/** An envelope as one line through both extremes of each column. */
export function paintLine(context: CanvasRenderingContext2D, curve: Curve, area: PlotArea, widthPx: number): void {
  strokeFine(context, through(pixelCurve(curve, area)), widthPx)
}

function around({ length, x, upper, lower }: PixelCurve): Path2D {
  const path = new Path2D()
  for (let i = 0; i < length; i += 1) path.lineTo(x[i] as number, upper[i] as number)
  for (let i = length - 1; i >= 0; i -= 1) path.lineTo(x[i] as number, lower[i] as number)
  path.closePath()
  return path
}

function through({ length, x, upper, lower }: PixelCurve): Path2D {
  const path = new Path2D()
  for (let i = 0; i < length; i += 1) {
    path.lineTo(x[i] as number, upper[i] as number)
    if (lower[i] !== upper[i]) path.lineTo(x[i] as number, lower[i] as number)
  }
  return path
}

/**
 * A long ragged line in strokes of one pixel beside each other. Without a graphics processor a stroke of up to one pixel
 * is drawn many times faster than a wider one, whose outline is computed first.
 */
function strokeFine(context: CanvasRenderingContext2D, path: Path2D, widthPx: number): void {
  const strokes = Math.max(1, Math.ceil(widthPx))
  const step = strokes === 1 ? 0 : (widthPx - 1) / (strokes - 1)
  context.save()
  context.lineWidth = 1
  context.translate(0, (-(strokes - 1) * step) / 2)
  for (let i = 0; i < strokes; i += 1) {
    context.stroke(path)
    context.translate(0, step)
  }
  context.restore()
}
