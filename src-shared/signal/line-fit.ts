import { windowMean, type Series } from './series.ts'

/**
 * Least-squares slope (per sample) over samples first … end−1, from up to 64 block means, so that the cost does not
 * depend on the window's length. 0 for windows under two samples.
 */
export function windowSlope(series: Series, first: number, end: number): number {
  const n = end - first
  if (n < 2) return 0
  const blocks = Math.min(64, n)
  const centreX = (first + end - 1) / 2
  const mean = windowMean(series, first, end)
  let sx = 0
  let sy = 0
  let sxy = 0
  let sxx = 0
  let from = first
  for (let b = 1; b <= blocks; b++) {
    const to = first + Math.floor((b * n) / blocks)
    const x = (from + to - 1) / 2 - centreX
    const y = windowMean(series, from, to) - mean
    from = to
    sx += x
    sy += y
    sxy += x * y
    sxx += x * x
  }
  // Blocks differ by a sample where their number does not divide the window, so neither sum is exactly zero.
  const spread = sxx - (sx * sx) / blocks
  return spread > 0 ? (sxy - (sx * sy) / blocks) / spread : 0
}

/**
 * Parabola through samples from … to by least squares about `centre`.
 * @returns its vertex (position, value) where it lies inside the window and curves towards `sign` (a maximum for
 * +1, a minimum for −1), else null.
 */
export function parabolaVertex(
  v: Float64Array,
  from: number,
  to: number,
  centre: number,
  sign: number,
): { at: number; value: number } | null {
  const n = to - from + 1
  if (n < 3) return null
  let s1 = 0
  let s2 = 0
  let s3 = 0
  let s4 = 0
  let y0 = 0
  let y1 = 0
  let y2 = 0
  const scale = 1 / Math.max(1, (to - from) / 2)
  for (let k = from; k <= to; k++) {
    const x = (k - centre) * scale
    const xx = x * x
    const y = v[k]!
    s1 += x
    s2 += xx
    s3 += xx * x
    s4 += xx * xx
    y0 += y
    y1 += x * y
    y2 += xx * y
  }
  const det = n * (s2 * s4 - s3 * s3) - s1 * (s1 * s4 - s3 * s2) + s2 * (s1 * s3 - s2 * s2)
  if (!(Math.abs(det) > 0)) return null
  const a = (y0 * (s2 * s4 - s3 * s3) - s1 * (y1 * s4 - s3 * y2) + s2 * (y1 * s3 - s2 * y2)) / det
  const b = (n * (y1 * s4 - y2 * s3) - y0 * (s1 * s4 - s3 * s2) + s2 * (s1 * y2 - s2 * y1)) / det
  const c = (n * (s2 * y2 - s3 * y1) - s1 * (s1 * y2 - s2 * y1) + y0 * (s1 * s3 - s2 * s2)) / det
  if (sign * c >= 0) return null
  const x = -b / (2 * c)
  const at = centre + x / scale
  if (at < from || at > to) return null
  return { at, value: a - (b * b) / (4 * c) }
}
