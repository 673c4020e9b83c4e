import { valueAt, type Series } from '../signal/series.ts'

/**
 * What a centred mean over `width` samples has added to a signal at position x, V, read from the mean itself (0 without
 * one). Of a smooth signal W²/24 of its second derivative (Taylor), of a corner there up to W/8 of its change of slope
 * (closed form), three times as much. The mean hides a corner within itself; it is told by the curvature beyond, which a
 * corner lacks.
 */
export function bentBy(series: Series, width: number, x: number): number {
  if (!(width > 1)) return 0
  const here = curvature(series, width, x)
  const beside = Math.max(...[x - width, x + width].map((at) => curvature(series, width, at) * Math.sign(here)))
  const corner = Math.max(0, Math.abs(here) - Math.max(0, beside)) * Math.sign(here)
  return width * width * (here / 24 + corner / 12)
}

/** Second derivative of the mean, from what it changes by over half its width to either side, V per sample². */
function curvature(series: Series, width: number, x: number): number {
  const half = width / 2
  const middle = valueAt(series, 0, x)
  return (valueAt(series, 0, x + half) - 2 * middle + valueAt(series, 0, x - half)) / (half * half)
}

/** Slope of a mean over `width` samples at x, V per sample. */
export function slopeOfMean(series: Series, width: number, x: number): number {
  const half = Math.max(1, width / 2)
  return (valueAt(series, 0, x + half) - valueAt(series, 0, x - half)) / (2 * half)
}
