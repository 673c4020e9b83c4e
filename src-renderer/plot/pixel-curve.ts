/**
 * Envelopes in the pixels of a plot. What lies in one pixel column becomes one, so that a long record costs no more to
 * draw than the plot is wide.
 */

export interface Curve {
  /** ms from the origin, ascending. */
  readonly x: Float64Array
  /** Least and greatest value of each column, V. */
  readonly min: Float32Array
  readonly max: Float32Array
}

/** Where a plot's scales lie on its canvas, device px. */
export interface PlotArea {
  readonly left: number
  readonly top: number
  readonly width: number
  readonly height: number
  readonly xMin: number
  readonly xMax: number
  readonly yMin: number
  readonly yMax: number
}

/** A curve in device px; only the first `length` of each array count. */
export interface PixelCurve {
  readonly length: number
  readonly x: Float64Array
  readonly upper: Float64Array
  readonly lower: Float64Array
  /** Largest distance between upper and lower. */
  readonly spread: number
}

/** The part of a curve that is in view, with one point beyond either border. */
export function pixelCurve({ x, min, max }: Curve, area: PlotArea): PixelCurve {
  const first = Math.max(0, indexBefore(x, area.xMin))
  const last = Math.min(x.length - 1, indexBefore(x, area.xMax) + 1)
  const most = Math.max(0, last - first + 1)
  const pixels = { x: new Float64Array(most), upper: new Float64Array(most), lower: new Float64Array(most) }
  const perMs = area.width / (area.xMax - area.xMin)
  const perVolt = area.height / (area.yMax - area.yMin)
  let length = 0
  let spread = 0
  let column = Number.NaN
  for (let i = first; i <= last; i += 1) {
    const at = area.left + ((x[i] as number) - area.xMin) * perMs
    const upper = area.top + (area.yMax - (max[i] as number)) * perVolt
    const lower = area.top + (area.yMax - (min[i] as number)) * perVolt
    const k = length - 1
    if (Math.floor(at) === column) {
      pixels.x[k] = column + 0.5
      pixels.upper[k] = Math.min(pixels.upper[k] as number, upper)
      pixels.lower[k] = Math.max(pixels.lower[k] as number, lower)
    } else {
      column = Math.floor(at)
      pixels.x[length] = at
      pixels.upper[length] = upper
      pixels.lower[length] = lower
      length += 1
    }
    const height = (pixels.lower[length - 1] as number) - (pixels.upper[length - 1] as number)
    if (height > spread) spread = height
  }
  return { length, spread, ...pixels }
}

/** Index of the last point at or before an x, −1 when all lie behind it. */
function indexBefore(x: Float64Array, value: number): number {
  let low = 0
  let high = x.length
  while (low < high) {
    const middle = (low + high) >> 1
    if ((x[middle] as number) <= value) low = middle + 1
    else high = middle
  }
  return low - 1
}
