import { integralTo, seriesOf, smoothedRun, strideOf, type Series } from '../signal/series.ts'

/**
 * ∫ |y − target| dx between two positions, in V × samples. Taken as the sum of the magnitudes of the signed integrals
 * between changes of side, where a change of side counts only once the signal (read through a mean of 2·half + 1
 * samples) is beyond the target by more than `guardV`: noise about the target then cancels instead of adding up.
 * Without noise (guard 0) it is the plain integral of the magnitude, to the interpolation between samples.
 */
export function integrateError(
  series: Series,
  from: number,
  to: number,
  target: number,
  half: number,
  guardV: number,
): { readonly total: number; readonly turns: readonly number[] } {
  const first = series.v[0]!
  const last = series.v[series.n - 1]!
  const area = (a: number, b: number): number =>
    Math.abs(integralTo(series, b, first, last) - integralTo(series, a, first, last) - target * (b - a))
  const turns: number[] = []
  let total = 0
  let start = from
  let side = 0
  const stride = strideOf(half)
  const origin = Math.floor(from)
  const run = smoothedRun(series, half, origin, Math.floor(to) + 1, stride)
  const above = target + guardV
  const below = target - guardV
  for (let i = 0; i < run.length; i++) {
    const y = run[i]!
    if (y <= above && y >= below) continue
    const now = y > above ? 1 : -1
    if (now === side) continue
    if (side !== 0) {
      // The change of side itself lies where the signal last passed the target.
      let j = i
      while (j > 1 && now * (run[j - 1]! - target) > 0) j--
      const before = run[j - 1]! - target
      const after = run[j]! - target
      const share = before === after ? 0 : before / (before - after)
      const zero = Math.min(to, Math.max(start, origin + (j - 1 + share) * stride))
      total += area(start, zero)
      start = zero
      turns.push(zero)
    }
    side = now
  }
  return { total: total + area(start, to), turns }
}

/**
 * The same stretch of a series mapped through a function of volts (the inverse ladder), by a table of 2,048 steps over
 * its range with linear interpolation, or value by value where that is less work. Position 0 is sample `first`.
 */
export function mapStretch(series: Series, first: number, end: number, map: (volts: number) => number): Series {
  const n = end - first
  const out = new Float64Array(n)
  let min = Infinity
  let max = -Infinity
  for (let k = first; k < end; k++) {
    const y = series.v[k]!
    if (y < min) min = y
    if (y > max) max = y
  }
  const steps = 2048
  if (n <= 2 * steps || !(max > min)) {
    for (let k = 0; k < n; k++) out[k] = map(series.v[first + k]!)
    return seriesOf(out)
  }
  const table = new Float64Array(steps + 2)
  const width = (max - min) / steps
  for (let i = 0; i <= steps; i++) table[i] = map(min + i * width)
  table[steps + 1] = table[steps]!
  for (let k = 0; k < n; k++) {
    const x = (series.v[first + k]! - min) / width
    const i = x | 0
    out[k] = table[i]! + (x - i) * (table[i + 1]! - table[i]!)
  }
  return seriesOf(out)
}
