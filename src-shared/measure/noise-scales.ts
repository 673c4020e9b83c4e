import { MAD_TO_SIGMA, medianInPlace } from '../signal/robust.ts'
import type { Series } from '../signal/series.ts'

/** Most scales 1, 2, 4 … samples that are compared, and most differences taken of one plateau at scale 1 and at others. */
export const SCALES = 18
const SINGLES = 2048
const READINGS = 512
/** A scale is read only where a plateau holds this many of it: fewer say next to nothing. */
const PER_SCALE = 8
/** Fewest differences from which noise is told at all. */
export const FEWEST = 8

const MAD_POINTS = 1024
const POINTS = 8192
const differences = new Float64Array(POINTS)
const sums = new Float64Array(POINTS + 1)
const deviations = new Float64Array(MAD_POINTS)

/** Variance of the differences of two sums of 1, 2, 4 … samples that one plateau (or both) shows at one scale. */
export interface Scale {
  /** Mean square of the differences, V², as white noise would show it, and its degrees of freedom; 0: not read. */
  variance: number
  dof: number
  /** Distance of the two sums that are subtracted. */
  distance: number
  /** What a removed trend takes from noise slower than the scale, over what it takes from white noise. */
  slow: number
}

export const blankScales = (): Scale[] =>
  Array.from({ length: SCALES }, () => ({ variance: 0, dof: 0, distance: 0, slow: 1 }))

/** Differences of adjacent sums of one plateau at every scale it holds often enough. */
export function readAdjacent(series: Series, first: number, end: number, lsbV: number, own: Scale[]): void {
  const { prefix } = series
  const n = end - first
  // What the signal itself still does there: a tail that has not ended, a drift.
  const trend = n >= FEWEST_TREND ? fitCubic(series, first, end) : NO_TREND
  const { slope, bend, third } = trend
  for (let i = 0, m = 1; i < SCALES; i++, m *= 2) {
    if (i > 0 && n < PER_SCALE * m) return
    const count = n - 2 * m + 1
    if (count < (i === 0 ? FEWEST : 1)) return
    const most = i === 0 ? SINGLES : READINGS
    // Overlapping by half: closer readings of sums say next to nothing more.
    const stride = Math.max(1, m >> 1, Math.floor(count / most))
    const square = m * m
    const curve = (third * square) / 6
    let sum = 0
    let readings = 0
    for (let k = first; k + 2 * m <= end && readings < most; k += stride) {
      const x = k + m - trend.centre
      const d = prefix[k + 2 * m]! - 2 * prefix[k + m]! + prefix[k]! - square * (slope + x * (bend + x * third) + curve)
      sum += d
      differences[readings++] = d
    }
    const mean = sum / readings
    let squares = 0
    let largest = 0
    for (let k = 0; k < readings; k++) {
      const d = (differences[k]! -= mean)
      squares += d * d
      const size = d < 0 ? -d : d
      if (size > largest) largest = size
    }
    let kept = readings
    const limit = clipLimit(readings, lsbV, largest)
    if (limit !== null) {
      squares = 0
      kept = 0
      for (let k = 0; k < readings; k++) {
        const d = differences[k]!
        if (d > limit || d < -limit) continue
        squares += d * d
        kept++
      }
    }
    const left = trend === NO_TREND ? 1 : whiteLeft(n / m)
    const scale = own[i]!
    // The mean of differences of neighbours is that of the trend alone: taking it out costs no degree of freedom.
    scale.variance = squares / Math.max(1, kept) / left
    scale.dof = Math.max(1, left * adjacentDof(readings, stride / m))
    scale.distance = m
    scale.slow = trend === NO_TREND ? 1 : slowLeft(n / m) / left
  }
}

/**
 * Degrees of freedom of the mean square of `readings` differences of adjacent sums of white noise, taken every `apart`
 * lengths of a sum: R ÷ (1 + 2·Σ(1 − j/R)·ρ²), with their correlation ρ = 1 − 1.5x up to one length apart and −(2 − x)/2 up to two.
 * Source: variance of a mean square of normal variables (Isserlis); two thirds of n for single samples, as in NIST SP 1065.
 */
function adjacentDof(readings: number, apart: number): number {
  let sum = 0
  for (let j = 1; j < readings && j * apart < 2; j++) {
    const x = j * apart
    const rho = x <= 1 ? 1 - 1.5 * x : x / 2 - 1
    sum += (1 - j / readings) * rho * rho
  }
  return readings / (1 + 2 * sum)
}

/**
 * Share of the variance of white noise, and of 1/f noise, that taking out the cubic leaves at sums of which a plateau
 * holds `per`: computed with the matrix of both operations for 8 to 64 (0.885, 0.979, 0.997 and 0.73, 0.93, 0.98).
 */
const whiteLeft = (per: number): number => 1 - 0.115 * (8 / per) ** 2.5
const slowLeft = (per: number): number => 1 - 0.27 * (8 / per) ** 2

/** Plateaus shorter than this keep their trend: taking one out would take most of the noise too. */
const FEWEST_TREND = 64
const BLOCKS = 32
const NO_TREND = { centre: 0, slope: 0, bend: 0, third: 0 }
const heights = new Float64Array(BLOCKS)

/** Slope of the cubic through a window (32 block means, least squares) at x from its centre: slope + bend·x + third·x². */
function fitCubic({ prefix }: Series, first: number, end: number): typeof NO_TREND {
  const block = (end - first) / BLOCKS
  let from = first
  for (let b = 0; b < BLOCKS; b++) {
    const to = b === BLOCKS - 1 ? end : Math.floor(first + (b + 1) * block)
    heights[b] = (prefix[to]! - prefix[from]!) / (to - from)
    from = to
  }
  // Orthogonal polynomials of equally spaced points (Gram): 1, t, t² − a, t³ − c·t.
  const a = (BLOCKS * BLOCKS - 1) / 12
  const c = (3 * BLOCKS * BLOCKS - 7) / 20
  let y1 = 0
  let y2 = 0
  let y3 = 0
  let s1 = 0
  let s2 = 0
  let s3 = 0
  for (let b = 0; b < BLOCKS; b++) {
    const t = b - (BLOCKS - 1) / 2
    const y = heights[b]!
    const p2 = t * t - a
    const p3 = t * (t * t - c)
    y1 += y * t
    y2 += y * p2
    y3 += y * p3
    s1 += t * t
    s2 += p2 * p2
    s3 += p3 * p3
  }
  const [b1, b2, b3] = [y1 / s1, y2 / s2, y3 / s3]
  return {
    centre: (first + end) / 2,
    slope: (b1 - c * b3) / block,
    bend: (2 * b2) / (block * block),
    third: (3 * b3) / block ** 3,
  }
}

/** Differences beyond this many robust standard deviations are spikes, which no Gaussian record shows. */
const SPIKE = 8

/** Whether single samples stand so far out of a plateau that its sums are no measure of noise. */
export function hasSpikes({ v }: Series, first: number, end: number, lsbV: number): boolean {
  const count = Math.min(end - first - 1, 2 * MAD_POINTS)
  if (count < 64) return false
  let most = 0
  for (let k = first; k < first + count; k++) {
    const d = Math.abs(v[k + 1]! - v[k]!)
    if (d > most) most = d
  }
  if (most <= 4 * lsbV) return false
  const stride = Math.max(1, Math.floor(count / MAD_POINTS))
  const limit = most / (SPIKE * MAD_TO_SIGMA)
  let points = 0
  let under = 0
  for (let k = first; k < first + count && points < MAD_POINTS; k += stride) {
    under += Math.abs(v[k + 1]! - v[k]!) < limit ? 1 : 0
    points++
  }
  return 2 * under > points
}

/**
 * Differences over `lag` samples (and over a `second` lag once more), summed over 1, 2, 4 … neighbours; what is far outside
 * does not count.
 */
export function readLagged(
  { v, prefix }: Series,
  first: number,
  end: number,
  lag: number,
  lsbV: number,
  second: number,
  own: Scale[],
): void {
  const other = second === lag || end - first - lag - second < 64 ? 0 : second
  const count = end - first - lag - other
  if (count < FEWEST) return
  const used = Math.min(count, POINTS)
  const sum = (k: number): number => prefix[k + used]! - prefix[k]!
  const single = (k: number): number => sum(k + lag) - sum(k)
  const mean = (other === 0 ? single(first) : single(first + other) - single(first)) / used
  if (other === 0) for (let k = 0; k < used; k++) differences[k] = v[first + k + lag]! - v[first + k]! - mean
  else
    for (let k = 0, at = first; k < used; k++, at++)
      differences[k] = v[at + lag + other]! - v[at + other]! - (v[at + lag]! - v[at]!) - mean
  let high = 0
  let low = 0
  for (let k = 0; k < used; k++) {
    const d = differences[k]!
    if (d > high) high = d
    if (d < low) low = d
  }
  const limit = clipLimit(used, lsbV, Math.max(high, -low)) ?? Infinity
  let kept = used
  let total = 0
  sums[0] = 0
  for (let k = 0; k < used; k++) {
    const d = differences[k]!
    if (d > limit || d < -limit) kept--
    else total += d
    sums[k + 1] = total
  }
  if (kept === 0) return
  // A second difference holds the first one twice.
  const share = (other === 0 ? 1 : 0.5) * (used / kept)
  for (let i = 0, m = 1; i < SCALES; i++, m *= 2) {
    if (i > 0 && used < PER_SCALE * m) return
    const stride = Math.max(1, m >> 2)
    let squares = 0
    let readings = 0
    for (let k = 0; k + m <= used; k += stride) {
      const d = sums[k + m]! - sums[k]!
      squares += d * d
      readings++
    }
    const scale = own[i]!
    scale.dof = Math.max(1, Math.min(0.5 * readings, used / m - 1))
    scale.variance = (squares * share) / Math.max(1, readings - 1)
    scale.distance = lag
    scale.slow = 1
  }
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
