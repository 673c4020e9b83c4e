import { MAD_TO_SIGMA, medianInPlace } from '../signal/robust.ts'
import { studentT95 } from '../signal/distributions.ts'
import type { Series } from '../signal/series.ts'
import { exponentialSum, rawNoise, TIMES, type NoiseModel } from './noise-model.ts'

const MAD_POINTS = 1024
const POINTS = 8192
const differences = new Float64Array(POINTS)
const sums = new Float64Array(POINTS + 1)
const deviations = new Float64Array(MAD_POINTS)

/** Most scales 1, 2, 4 … samples that are compared, and most differences taken of one plateau at scale 1 and at others. */
const SCALES = 18
const SINGLES = 2048
const READINGS = 512
/** A scale is read only where a plateau holds this many of it: fewer say next to nothing. */
const PER_SCALE = 8
/** Fewest differences from which noise is told at all. */
const FEWEST = 8
/** Improvement of the fit (in the way of χ² of one parameter) from which a slower part is believed. */
const IMPROVEMENT = 11
const MOST_PARTS = 4
/** A part slower than the longest scale over this is taken for 1/f, which has as much again at 3, 9 and 27 times its time. */
const SLOW = 2.5
const BEYOND = 3

/** Sums over the plateaus at one scale: squares about their mean, their count and degrees of freedom. */
interface Scale {
  squares: number
  dof: number
  /** Distance of the two sums that are subtracted, and into how many such differences one reading was taken apart. */
  distance: number
}

const blank = (): Scale[] => Array.from({ length: SCALES }, () => ({ squares: 0, dof: 0, distance: 0 }))
const scales = blank()
const ofPlateaus = [blank(), blank()] as const
const observed = new Float64Array(SCALES)
const weight = new Float64Array(SCALES)
const model = new Float64Array(SCALES)
const columns = Array.from({ length: TIMES.length + 1 }, () => new Float64Array(SCALES))
const amounts = new Float64Array(TIMES.length + 1)
const active: number[] = []

/**
 * Noise of the plateaus from differences of sums of 1, 2, 4 … samples (overlapping Allan variances): what drifts evenly
 * cancels, and how the variances grow with the scale tells white noise from noise with a memory. To those variances a
 * white part and the fewest exponential parts that explain them are fitted, none negative.
 * With ripple, differences are taken over `lag` samples instead (whole ripple periods), and over a second lag once more
 * for a second ripple unrelated to the first (of either plateau; 0: none); what is far outside then (edges of a pulsed backlight) does not
 * count.
 * Source: overlapping Allan variance, degrees of freedom as for white noise; fit by weighted least squares.
 * @returns null when the plateaus hold fewer than 8 differences together
 */
export function plateauNoise(
  series: Series,
  windows: readonly [readonly [number, number], readonly [number, number]],
  lag: number,
  lsbV: number,
  second: readonly [number, number] = [0, 0],
): NoiseModel | null {
  const spiked = lag === 0 && windows.some(([first, end]) => hasSpikes(series, first, end, lsbV))
  for (let side = 0; side < 2; side++) {
    const [first, end] = windows[side]!
    const own = ofPlateaus[side]!
    for (const scale of own) scale.dof = 0
    if (lag > 0) readLagged(series, first, end, lag, lsbV, second[side]!, own)
    else if (spiked) readLagged(series, first, end, Math.max(2, (end - first) >> 3), lsbV, 0, own)
    else readAdjacent(series, first, end, lsbV, own)
  }
  pool(...ofPlateaus)
  let used = 0
  while (used < SCALES && scales[used]!.dof > 0) used++
  if (used === 0 || scales[0]!.dof < FEWEST / 2) return null
  return fitParts(used)
}

/** Differences of adjacent sums of one plateau at every scale it holds often enough. */
function readAdjacent(series: Series, first: number, end: number, lsbV: number, own: Scale[]): void {
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
    const span = Math.min(n, readings * stride + 2 * m)
    const taken = trend === NO_TREND ? 1 : n < 16 * m ? TAKEN[0] : n < 32 * m ? TAKEN[1] : 1
    setScale(own[i]!, m, squares / taken, kept, Math.min(0.65 * readings, (1.5 * span) / m - 2))
  }
}

/**
 * Share of the variance of 1/f noise that a cubic leaves at scales of more than a sixteenth of a plateau, and of more than a
 * thirty-second (simulated; of white noise 0.93 and 1.00).
 */
const TAKEN = [0.77, 0.94] as const

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
function hasSpikes({ v }: Series, first: number, end: number, lsbV: number): boolean {
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

function setScale(scale: Scale, distance: number, squares: number, readings: number, dof: number): void {
  scale.dof = Math.max(1, dof)
  scale.squares = (squares / Math.max(1, readings - 1)) * scale.dof
  scale.distance = distance
}

/** How far apart (in standard deviations of the logarithm) the two plateaus' growth with the scale may lie. */
const APART = 5

/**
 * Both plateaus together. Noise is the same before and after the step but for its size; where one grows with the scale
 * much more than the other, something happens in it (a tail, a second step), and the other one is believed.
 */
function pool(a: readonly Scale[], b: readonly Scale[]): void {
  let left = true
  let right = true
  const single = (scale: Scale | undefined): number => (scale && scale.dof > 0 ? scale.squares / scale.dof : 0)
  const [a0, b0] = [single(a[0]), single(b[0])]
  const both = a0 > 0 && b0 > 0
  const pooled = both ? (a[0]!.squares + b[0]!.squares) / (a[0]!.dof + b[0]!.dof) : 0
  for (let i = 0; i < SCALES; i++) {
    const one = a[i]!
    const two = b[i]!
    const out = scales[i]!
    if (both && left && right && one.dof > 0 && two.dof > 0 && one.squares > 0 && two.squares > 0) {
      const apart = Math.log(single(one) / a0 / (single(two) / b0))
      const allowed = APART * Math.sqrt(2 / one.dof + 2 / two.dof)
      if (apart > allowed) left = false
      else if (apart < -allowed) right = false
    }
    const useOne = left && one.dof > 0
    const useTwo = right && two.dof > 0
    out.distance = useOne ? one.distance : two.distance
    out.dof = (useOne ? one.dof : 0) + (useTwo ? two.dof : 0)
    out.squares = (useOne ? one.squares : 0) + (useTwo ? two.squares : 0)
    // Of one plateau alone: its growth, with the size of both.
    if (!left) out.squares *= pooled / b0
    if (!right) out.squares *= pooled / a0
  }
}

function readLagged(
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
    setScale(own[i]!, lag, squares * share, readings, Math.min(0.5 * readings, used / m - 1))
  }
}

/** Variance of the difference of two sums of m samples that lie `distance` apart, for an exponential part of unit variance. */
function differenceVariance(j: number, m: number, distance: number): number {
  return (
    2 * exponentialSum(j, m) -
    exponentialSum(j, distance + m) -
    exponentialSum(j, Math.abs(distance - m)) +
    2 * exponentialSum(j, distance)
  )
}

/** What adjacent sums give for each part, the same for every record without ripple. */
const adjacent = TIMES.map((_time, j) =>
  Float64Array.from({ length: SCALES }, (_value, i) => differenceVariance(j, 2 ** i, 2 ** i)),
)

function fitParts(used: number): NoiseModel {
  let distance = 0
  let largest = 0
  for (let i = 0; i < used; i++) {
    const scale = scales[i]!
    observed[i] = scale.squares / scale.dof
    if (observed[i]! > largest) largest = observed[i]!
    distance = scale.distance
  }
  const white = columns[0]!
  let lagged = false
  for (let i = 0, m = 1; i < used; i++, m *= 2) {
    lagged ||= scales[i]!.distance !== m
    white[i] = 2 * Math.min(m, scales[i]!.distance)
  }
  if (!(largest > 0)) return rawNoise(0, [], scales[0]!.dof)
  amounts.fill(0)
  active.length = 0
  active.push(0)
  // Weighted by what the model itself expects, so that a low reading does not count for more.
  amounts[0] = 0
  for (let i = 0; i < used; i++) weight[i] = scales[i]!.dof / 2 / Math.max(observed[i]!, 1e-9 * largest) ** 2
  let misfit = refit(used)
  if (misfit >= IMPROVEMENT) {
    for (let j = 0; j < TIMES.length; j++) {
      const column = columns[j + 1]!
      if (!lagged) column.set(adjacent[j]!)
      else for (let i = 0, m = 1; i < used; i++, m *= 2) column[i] = differenceVariance(j, m, distance)
    }
  }
  // No part can be told that is slower than the longest scale read.
  const longest = 2 ** used
  const most = used > 2 ? MOST_PARTS : 0
  while (misfit >= IMPROVEMENT && active.length <= most) {
    let best = -1
    let bestGain = 0
    for (let j = 0; j < TIMES.length && TIMES[j]! <= longest; j++) {
      if (active.includes(j + 1)) continue
      const column = columns[j + 1]!
      let up = 0
      let down = 0
      for (let i = 0; i < used; i++) {
        up += weight[i]! * (observed[i]! - model[i]!) * column[i]!
        down += weight[i]! * column[i]! ** 2
      }
      const gain = up > 0 && down > 0 ? (up * up) / down : 0
      if (gain > bestGain) {
        bestGain = gain
        best = j + 1
      }
    }
    if (best < 0) break
    const before = amounts.slice()
    active.push(best)
    const better = refit(used)
    if (misfit - better < IMPROVEMENT) {
      amounts.set(before)
      active.pop()
      break
    }
    misfit = better
  }
  const slowest = extend(longest, scales[used - 1]!.dof)
  const parts: number[] = []
  for (const index of active) {
    if (index === 0 || !(amounts[index]! > 0)) continue
    while (parts.length < index) parts.push(0)
    parts[index - 1] = amounts[index]!
  }
  return rawNoise(amounts[0], parts, scales[0]!.dof, slowest)
}

/**
 * Noise that is still slow at the longest scale read goes on beyond it: the way 1/f does, equal amounts for equal ratios
 * of the time constants, up to the length of a record.
 * @returns how many parts were there before
 */
function extend(longest: number, dof: number): number {
  let slowest = 0
  for (const a of active) if (a > slowest && amounts[a]! > 0) slowest = a
  if (slowest === 0 || TIMES[slowest - 1]! < longest / SLOW) return slowest
  // The slowest scales are known with few degrees of freedom: Student's t over the normal quantile, squared.
  const factor = (studentT95(Math.max(2, Math.round(dof))) / 1.96) ** 2
  const amount = factor * amounts[slowest]!
  amounts[slowest] = amount
  for (let more = 1; more <= BEYOND && slowest + more <= TIMES.length; more++) {
    amounts[slowest + more] = amount
    active.push(slowest + more)
  }
  return slowest
}

/**
 * Weighted least squares of the active parts, none negative, by going through them one by one; twice, the weights being
 * taken from the first fit. @returns the misfit in the way of χ²
 */
function refit(used: number): number {
  for (let round = 0; round < 3; round++) {
    for (let sweep = 0; sweep < 60; sweep++) {
      let change = 0
      for (const a of active) {
        const column = columns[a]!
        let up = 0
        let down = 0
        for (let i = 0; i < used; i++) {
          let rest = observed[i]!
          for (const b of active) if (b !== a) rest -= amounts[b]! * columns[b]![i]!
          up += weight[i]! * rest * column[i]!
          down += weight[i]! * column[i]! ** 2
        }
        const next = down > 0 ? Math.max(0, up / down) : 0
        change = Math.max(change, Math.abs(next - amounts[a]!) / (next + amounts[a]! || 1))
        amounts[a] = next
      }
      if (active.length === 1 || change < 1e-3) break
    }
    let top = 0
    for (let i = 0; i < used; i++) {
      let sum = 0
      for (const a of active) sum += amounts[a]! * columns[a]![i]!
      model[i] = sum
      if (sum > top) top = sum
    }
    if (!(top > 0)) return 0
    for (let i = 0; i < used; i++) weight[i] = scales[i]!.dof / 2 / Math.max(model[i]!, 1e-12 * top) ** 2
  }
  let misfit = 0
  for (let i = 0; i < used; i++) misfit += weight[i]! * (observed[i]! - model[i]!) ** 2
  return misfit
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
 * Lag for `plateauNoise`: up to 16 ripple periods, as close to a whole number of samples as there is; 0 without ripple.
 * `frequency` in cycles per sample.
 */
export function rippleLag(frequency: number | null, room: number): number {
  if (frequency === null || !(frequency > 0)) return 0
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
