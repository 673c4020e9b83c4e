import { MAD_TO_SIGMA, medianInPlace } from '../signal/robust.ts'
import type { Series } from '../signal/series.ts'

const MAD_POINTS = 1024
const RMS_POINTS = 8192
const differences = new Float64Array(RMS_POINTS)
const deviations = new Float64Array(MAD_POINTS)

/**
 * Standard deviation of single samples in a plateau from differences over `lag` samples: whatever repeats after the
 * lag (ripple, when the lag is whole ripple periods) and whatever drifts evenly cancels. A second lag (0: none) takes
 * the differences of the differences, for a second ripple unrelated to the first. Values beyond four robust standard
 * deviations (edges of a pulsed backlight, spikes) do not count. Noise must not be correlated over the lags.
 * @returns null when the plateau holds fewer than 8 differences.
 */
export function lagNoise(
  series: Series,
  first: number,
  end: number,
  lag: number,
  lsbV: number,
  second = 0,
): number | null {
  const other = second === lag || end - first - lag - second < 64 ? 0 : second
  const count = end - first - lag - other
  if (count < 8) return null
  const { v, prefix } = series
  const used = Math.min(count, RMS_POINTS)
  const sum = (k: number): number => prefix[k + used]! - prefix[k]!
  const single = (k: number): number => sum(k + lag) - sum(k)
  const mean = (other === 0 ? single(first) : single(first + other) - single(first)) / used
  if (other === 0) for (let k = 0; k < used; k++) differences[k] = v[first + k + lag]! - v[first + k]! - mean
  else
    for (let k = 0, at = first; k < used; k++, at++)
      differences[k] = v[at + lag + other]! - v[at + other]! - (v[at + lag]! - v[at]!) - mean
  let squares = 0
  let high = 0
  let low = 0
  for (let k = 0; k < used; k++) {
    const d = differences[k]!
    squares += d * d
    if (d > high) high = d
    if (d < low) low = d
  }
  let kept = used
  const limit = clipLimit(used, lsbV, Math.max(high, -low))
  if (limit !== null) {
    squares = 0
    kept = 0
    for (let k = 0; k < used; k++) {
      const d = differences[k]!
      if (d > limit || d < -limit) continue
      squares += d * d
      kept++
    }
  }
  return kept > 0 ? Math.sqrt(squares / kept / (other === 0 ? 2 : 4)) : 0
}

/** Four robust standard deviations, as a multiple of the median absolute deviation. */
const CLIP = 4 * MAD_TO_SIGMA

/**
 * Four robust standard deviations of the first `used` differences, or 2.5 digitizer steps where that is more; null
 * where the largest of them, `most`, does not exceed it. That is told without selecting a median when no more than half
 * of the differences lie under `most` ÷ 5.93.
 */
function clipLimit(used: number, lsbV: number, most: number): number | null {
  const least = 2.5 * lsbV
  if (most <= least) return null
  const stride = Math.max(1, Math.floor(used / MAD_POINTS))
  // A little more, so that rounding does not decide.
  const share = (most / CLIP) * (1 + 1e-12)
  let points = 0
  let under = 0
  for (let k = 0; k < used && points < MAD_POINTS; k += stride) {
    const size = Math.abs(differences[k]!)
    deviations[points++] = size
    under += size < share ? 1 : 0
  }
  if (2 * under < points) return null
  const limit = Math.max(CLIP * medianInPlace(deviations, points), least)
  return most > limit ? limit : null
}

/**
 * Lag for `lagNoise`: up to 16 ripple periods, as close to a whole number of samples as there is; 2 samples without
 * ripple. `frequency` in cycles per sample.
 */
export function rippleLag(frequency: number | null, room: number): number {
  if (frequency === null || !(frequency > 0)) return 2
  let best = 2
  let bestError = Infinity
  for (let periods = 1; periods <= 16; periods++) {
    const exact = periods / frequency
    const lag = Math.round(exact)
    if (lag > room) break
    if (lag < 1) continue
    const error = Math.abs(exact - lag)
    if (error < 0.8 * bestError) {
      best = lag
      bestError = error
      if (error < 0.01) break
    }
  }
  return best
}
