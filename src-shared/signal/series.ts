/**
 * Evenly sampled values with their running sum, so that any window mean costs the same whatever its width.
 * `v` holds `n` values; `prefix` holds n + 1 entries, prefix[k] = v[0] + … + v[k−1]. Positions are in samples.
 */
export interface Series {
  readonly v: Float64Array
  readonly prefix: Float64Array
  readonly n: number
}

/** Series over the given values (not copied). `prefix` may be a reused buffer of at least n + 1 entries. */
export function seriesOf(v: Float64Array, prefix: Float64Array = new Float64Array(v.length + 1)): Series {
  const n = v.length
  let sum = 0
  prefix[0] = 0
  for (let k = 0; k < n; k++) {
    sum += v[k]!
    prefix[k + 1] = sum
  }
  return { v, prefix, n }
}

/** Mean of samples first … end−1. Undefined (NaN) for an empty window: callers check the width. */
export function windowMean(series: Series, first: number, end: number): number {
  return (series.prefix[end]! - series.prefix[first]!) / (end - first)
}

/** Centred mean over 2·half + 1 samples; the window narrows symmetrically at the record's ends. */
export function smoothAt(series: Series, half: number, k: number): number {
  if (half === 0) return series.v[k]!
  const room = k < series.n - 1 - k ? k : series.n - 1 - k
  const h = half < room ? half : room
  return (series.prefix[k + h + 1]! - series.prefix[k - h]!) / (2 * h + 1)
}

/** Value of the line between samples at the fractional position x, held at both ends. */
export function valueAt(series: Series, half: number, x: number): number {
  if (x <= 0) return smoothAt(series, half, 0)
  if (x >= series.n - 1) return smoothAt(series, half, series.n - 1)
  const k = Math.floor(x)
  const y0 = smoothAt(series, half, k)
  return y0 + (x - k) * (smoothAt(series, half, k + 1) - y0)
}

/**
 * ∫ from sample 0 to the fractional position x of the line through the samples, in value × samples.
 * Before the record the value `before` is assumed, after it `after`.
 */
export function integralTo(series: Series, x: number, before: number, after: number): number {
  const last = series.n - 1
  if (x <= 0) return x * before
  const v = series.v
  if (x >= last) return series.prefix[last]! + (v[last]! - v[0]!) / 2 + (x - last) * after
  const k = Math.floor(x)
  const f = x - k
  const y0 = v[k]!
  return series.prefix[k]! + (y0 - v[0]!) / 2 + f * (y0 + (f / 2) * (v[k + 1]! - y0))
}

/** Mean of the line through the samples between two fractional positions inside the record, from < to. */
export function meanBetween(series: Series, from: number, to: number): number {
  const first = series.v[0]!
  const last = series.v[series.n - 1]!
  return (integralTo(series, to, first, last) - integralTo(series, from, first, last)) / (to - from)
}

/**
 * Distance at which values read through a mean of 2·half + 1 samples are worth reading: half its half width.
 * Between such positions a smoothed trace hardly changes, so searches may step by it.
 */
export function strideOf(half: number): number {
  return half < 4 ? 1 : half >> 1
}

let scratch = new Float64Array(0)

/**
 * Values read through a mean of 2·half + 1 samples at first, first + stride, … before end. Without smoothing a view of
 * the series itself, else of a buffer that the next call overwrites.
 */
export function smoothedRun(series: Series, half: number, first: number, end: number, stride: number): Float64Array {
  if (half === 0 && stride === 1) return series.v.subarray(first, Math.max(first, end))
  const count = Math.max(0, Math.ceil((end - first) / stride))
  if (scratch.length < count) scratch = new Float64Array(count + (count >> 2))
  const { prefix, n } = series
  const share = 1 / (2 * half + 1)
  let k = first
  let i = 0
  for (; i < count && k < half; i++, k += stride) scratch[i] = smoothAt(series, half, k)
  for (; i < count && k + half < n; i++, k += stride) scratch[i] = (prefix[k + half + 1]! - prefix[k - half]!) * share
  for (; i < count; i++, k += stride) scratch[i] = smoothAt(series, half, k)
  return scratch.subarray(0, count)
}
