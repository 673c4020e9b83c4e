import { smoothAt, smoothedRun, strideOf, type Series } from './series.ts'

/*
 * Threshold crossings by linear interpolation between the two samples that bracket the level. `sign` is +1 for a
 * rising and −1 for a falling step, `half` the half width of the centred mean the values are read through (0: plain
 * samples). Positions are fractional sample indices; null when there is no such crossing in the record.
 * Source: IEEE Std 181 reference-level instants (formula agrees with public documentation; clause from memory).
 */

function between(y0: number, y1: number, level: number): number {
  const rise = y1 - y0
  if (rise === 0) return 1
  const f = (level - y0) / rise
  return f < 0 ? 0 : f > 1 ? 1 : f
}

/** First position after `start` at which the series reaches `level` in the direction of `sign`. */
export function reachAfter(series: Series, half: number, start: number, level: number, sign: number): number | null {
  const first = Math.max(0, Math.floor(start))
  let previous = smoothAt(series, half, first)
  for (let k = first + 1; k < series.n; k++) {
    const y = smoothAt(series, half, k)
    if (sign * (y - level) >= 0) {
      if (sign * (previous - level) >= 0) return Math.max(start, first)
      return Math.max(start, k - 1 + between(previous, y, level))
    }
    previous = y
  }
  return null
}

/** Last position before `start` at which the series was still at or short of `level`. */
export function reachBefore(series: Series, half: number, start: number, level: number, sign: number): number | null {
  const last = Math.min(series.n - 1, Math.ceil(start))
  let next = smoothAt(series, half, last)
  for (let k = last - 1; k >= 0; k--) {
    const y = smoothAt(series, half, k)
    if (sign * (y - level) <= 0) {
      if (sign * (next - level) <= 0) return Math.min(start, last)
      return Math.min(start, k + between(y, next, level))
    }
    next = y
  }
  return null
}

/** Crossing of `level` in the direction of `sign` that lies nearest to `near`, on either side. */
export function reachNearest(series: Series, half: number, near: number, level: number, sign: number): number | null {
  const centre = Math.min(series.n - 2, Math.max(0, Math.floor(near)))
  const reach = Math.max(centre + 1, series.n - centre)
  for (let d = 0; d <= reach; d++) {
    for (let side = 0; side < (d === 0 ? 1 : 2); side++) {
      const k = side === 0 ? centre + d : centre - d
      if (k < 0 || k + 1 >= series.n) continue
      const y0 = smoothAt(series, half, k)
      const y1 = smoothAt(series, half, k + 1)
      if (sign * (y0 - level) < 0 && sign * (y1 - level) >= 0) return k + between(y0, y1, level)
    }
  }
  return null
}

/** How often the series crosses from one side of the band low … high to the other. */
export function countCrossings(
  series: Series,
  half: number,
  low: number,
  high: number,
): { count: number; first: number; last: number } {
  let count = 0
  let first = -1
  let last = -1
  const stride = strideOf(half)
  const run = smoothedRun(series, half, 0, series.n, stride)
  const length = run.length
  let i = 0
  while (i < length && run[i]! <= high && run[i]! >= low) i++
  let above = i < length && run[i]! > high
  for (;;) {
    if (above) while (i < length && run[i]! >= low) i++
    else while (i < length && run[i]! <= high) i++
    if (i >= length) break
    above = !above
    count++
    last = i * stride
    if (count === 1) first = last
  }
  return { count, first, last }
}

/**
 * Spread of a crossing by noise: from its first passage at `start`, the last position at which the series still passes
 * `level` in the direction of `sign` before it is beyond it by `guard` for the first time (going forward for step +1,
 * backward for −1, where "beyond" is back short of the level). Equals `start` when guard is 0.
 */
export function lastPassage(
  series: Series,
  half: number,
  start: number,
  level: number,
  sign: number,
  guard: number,
  step: 1 | -1,
): number {
  if (!(guard > 0)) return start
  let last = start
  const toward = sign * step
  let k = step > 0 ? Math.floor(start) : Math.ceil(start)
  let previous = smoothAt(series, half, k)
  for (k += step; k >= 0 && k < series.n; k += step) {
    const y = smoothAt(series, half, k)
    if (toward * (y - level) >= guard) break
    if (toward * (previous - level) < 0 && toward * (y - level) >= 0) {
      last = k - step + step * between(previous, y, level)
    }
    previous = y
  }
  return last
}
