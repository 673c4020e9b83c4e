import { integralTo, type Series } from './series.ts'

/**
 * Centred mean of the line through the samples over `width` samples, which need not be a whole number; O(n).
 * Within half a width of either end the first or last full window is held, so that a ripple whose period divides
 * the width stays removed. `width` larger than the record gives its mean throughout.
 */
export function movingAverage(
  series: Series,
  width: number,
  out: Float64Array = new Float64Array(series.n),
): Float64Array {
  const n = series.n
  if (n === 0) return out
  const first = series.v[0]!
  const final = series.v[n - 1]!
  if (width <= 1) {
    for (let k = 0; k < n; k++) out[k] = series.v[k]!
    return out
  }
  const span = Math.min(width, n - 1)
  const half = span / 2
  const from = Math.ceil(half)
  const to = Math.max(from, Math.floor(n - 1 - half))
  for (let k = from; k <= to; k++) {
    const centre = Math.min(Math.max(k, half), n - 1 - half)
    out[k] = (integralTo(series, centre + half, first, final) - integralTo(series, centre - half, first, final)) / span
  }
  for (let k = 0; k < from; k++) out[k] = out[from]!
  for (let k = to + 1; k < n; k++) out[k] = out[to]!
  return out
}
