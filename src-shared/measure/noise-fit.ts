import { normalQuantile, studentT95 } from '../signal/distributions.ts'
import { ALPHA } from './flags/budget.ts'
import { exponentialSum, rawNoise, TIMES, type NoiseModel } from './noise-model.ts'
import { SCALES, type Scale } from './noise-scales.ts'

const MOST_PARTS = 4
/** A part slower than the longest scale over this is taken for 1/f, which has as much again at 3, 9 and 27 times its time. */
const SLOW = 2.5
const BEYOND = 3

const observed = new Float64Array(SCALES)
const dofs = new Float64Array(SCALES)
const weight = new Float64Array(SCALES)
const model = new Float64Array(SCALES)
/** Columns and amounts: white noise, one part for each of TIMES, and equal amounts of all of them, which is 1/f noise. */
const WHITE = 0
const FLICKER = TIMES.length + 1
const columns = Array.from({ length: TIMES.length + 2 }, () => new Float64Array(SCALES))
const amounts = new Float64Array(TIMES.length + 2)
const active: number[] = []

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

/**
 * White noise, 1/f noise and the fewest exponential parts, none negative, that explain what the first `used` scales show.
 * 1/f noise is equal amounts for equal ratios of time constants (traps, McWhorter 1957). Variances of normal noise follow χ²: the fit is that of the greatest likelihood, and a part is believed where it raises the
 * likelihood by more than chance does in one record of a hundred (`limitOf`).
 */
export function fitParts(scales: readonly Scale[], used: number): NoiseModel {
  let largest = 0
  for (let i = 0; i < used; i++) {
    observed[i] = scales[i]!.variance
    dofs[i] = scales[i]!.dof
    if (observed[i]! > largest) largest = observed[i]!
  }
  const white = columns[WHITE]!
  let lagged = false
  for (let i = 0, m = 1; i < used; i++, m *= 2) {
    lagged ||= scales[i]!.distance !== m
    white[i] = 2 * Math.min(m, scales[i]!.distance)
  }
  if (!(largest > 0)) return rawNoise(0, [], dofs[0]!)
  amounts.fill(0)
  active.length = 0
  active.push(WHITE)
  for (let i = 0; i < used; i++) weight[i] = dofs[i]! / 2 / Math.max(observed[i]!, 1e-9 * largest) ** 2
  let misfit = refit(used)
  // No part can be told that is slower than the longest scale read.
  const longest = 2 ** used
  let tried = 0
  while (tried < TIMES.length && TIMES[tried]! <= longest) tried++
  const least = chanceLimit(1)
  if (misfit >= least) fillColumns(scales, used, lagged)
  const most = used > 2 ? MOST_PARTS : 0
  while (misfit >= least && active.length <= most) {
    const before = amounts.slice()
    const best = bestPart(used, tried)
    const limitOf = (part: number): number =>
      chanceLimit(part === FLICKER ? 1 : tried) * sharedBy(part, used, lagged ? LAGGED : ADJACENT)
    let gain = 0
    let found = -1
    let taken = before
    for (const part of [FLICKER, best]) {
      if (part < 0 || active.includes(part)) continue
      const limit = limitOf(part)
      active.push(part)
      const gained = misfit - refit(used)
      if (gained > gain && gained >= limit) {
        gain = gained
        found = part
        taken = amounts.slice()
      }
      active.pop()
      restore(before, used)
    }
    if (found < 0) break
    active.push(found)
    restore(taken, used)
    misfit -= gain
  }
  const flicker = active.includes(FLICKER) ? amounts[FLICKER]! : 0
  const slowest = extend(longest, dofs[used - 1]!)
  const parts: number[] = flicker > 0 ? TIMES.map(() => flicker) : []
  for (const index of active) {
    if (index === WHITE || index === FLICKER || !(amounts[index]! > 0)) continue
    while (parts.length < index) parts.push(0)
    parts[index - 1]! += amounts[index]!
  }
  return rawNoise(amounts[WHITE]!, parts, dofs[0]!, flicker > 0 ? Math.max(tried, slowest) : slowest)
}

/** What a part of unit variance shows at every scale, as the readings hold it. */
function fillColumns(scales: readonly Scale[], used: number, lagged: boolean): void {
  const all = columns[FLICKER]!.fill(0)
  for (let j = 0; j < TIMES.length; j++) {
    const column = columns[j + 1]!
    for (let i = 0, m = 1; i < used; i++, m *= 2) {
      const { distance, slow } = scales[i]!
      column[i] = (lagged ? differenceVariance(j, m, distance) : adjacent[j]![i]!) * (TIMES[j]! > m ? slow : 1)
      all[i]! += column[i]!
    }
  }
}

/** Part that most of the misfit asks for; −1 without one. */
function bestPart(used: number, tried: number): number {
  let best = -1
  let bestGain = 0
  for (let index = 1; index <= tried; index++) {
    if (active.includes(index)) continue
    const column = columns[index]!
    let up = 0
    let down = 0
    for (let i = 0; i < used; i++) {
      up += weight[i]! * (observed[i]! - model[i]!) * column[i]!
      down += weight[i]! * column[i]! ** 2
    }
    const gain = up > 0 && down > 0 ? (up * up) / down : 0
    if (gain > bestGain) {
      bestGain = gain
      best = index
    }
  }
  return best
}

/**
 * Twice the log likelihood by which the best of so many parts that are not there improves the fit in one record of two
 * hundred, were the scales' readings independent: one-sided normal deviate, squared (a part cannot be negative), its
 * chance shared by all that are tried. 1/f noise has the other half of one record in a hundred to itself. A part moves
 * uncertainties and raises no flag, so that it takes nothing from the flags' shares.
 */
function chanceLimit(tried: number): number {
  const limit = limits[tried] ?? normalQuantile(1 - ALPHA / 2 / Math.max(1, tried)) ** 2
  limits[tried] = limit
  return limit
}
const limits: number[] = []

/**
 * Correlation of the mean squares at two scales, the larger 2, 4, 8 … times the smaller: both are read from the same
 * samples. Closed form: squared cross-covariances of the differences of white noise, summed.
 */
const ADJACENT = [1, 0.454, 0.16, 0.057, 0.02, 0.007] as const
const LAGGED = [1, 0.884, 0.688, 0.508, 0.366, 0.261, 0.185, 0.131] as const

/**
 * By what the correlation of the scales multiplies the improvement that a part brings by chance: variance of the
 * likelihood's slope along that part (what the active parts cannot take up) over what it would be without correlation.
 */
function sharedBy(part: number, used: number, correlation: readonly number[]): number {
  const along = unit(columns[part]!, used)
  const basis: Float64Array[] = []
  for (const a of active) {
    const own = unit(columns[a]!, used)
    for (const other of basis) subtract(own, other, used)
    const size = Math.sqrt(dot(own, own, used))
    if (!(size > 0)) continue
    for (let i = 0; i < used; i++) own[i]! /= size
    basis.push(own)
  }
  for (const other of basis) subtract(along, other, used)
  let sum = 0
  for (let i = 0; i < used; i++)
    for (let k = 0; k < used; k++) sum += along[i]! * along[k]! * (correlation[Math.abs(i - k)] ?? 0)
  const size = dot(along, along, used)
  return size > 0 ? Math.max(1, sum / size) : 1
}

/** A column in standard deviations of the readings. */
function unit(column: Float64Array, used: number): Float64Array {
  const out = new Float64Array(used)
  for (let i = 0; i < used; i++) out[i] = Math.sqrt(weight[i]!) * column[i]!
  return out
}

function dot(a: Float64Array, b: Float64Array, used: number): number {
  let sum = 0
  for (let i = 0; i < used; i++) sum += a[i]! * b[i]!
  return sum
}

function subtract(from: Float64Array, along: Float64Array, used: number): void {
  const share = dot(from, along, used)
  for (let i = 0; i < used; i++) from[i]! -= share * along[i]!
}

/**
 * Noise that is still slow at the longest scale read goes on beyond it: the way 1/f does, equal amounts for equal ratios
 * of the time constants, up to the length of a record.
 * @returns how many parts were there before
 */
function extend(longest: number, dof: number): number {
  let slowest = 0
  for (const a of active) if (a > slowest && a !== FLICKER && amounts[a]! > 0) slowest = a
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
 * Greatest likelihood of the active parts, none negative: weighted least squares with weights from the fit before, part
 * by part. @returns the deviance Σν(x − 1 − ln x), x observed over model, which is about χ²
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
    weigh(used)
  }
  let deviance = 0
  for (let i = 0; i < used; i++) {
    const x = Math.max(1e-9, observed[i]! * Math.sqrt((2 * weight[i]!) / dofs[i]!))
    deviance += dofs[i]! * (x - 1 - Math.log(x))
  }
  return deviance
}

/** Takes amounts as found before, with what they show and the weights by it. */
function restore(as: Float64Array, used: number): void {
  amounts.set(as)
  weigh(used)
}

function weigh(used: number): void {
  let top = 0
  for (let i = 0; i < used; i++) {
    let sum = 0
    for (const a of active) sum += amounts[a]! * columns[a]![i]!
    model[i] = sum
    if (sum > top) top = sum
  }
  for (let i = 0; i < used; i++) weight[i] = dofs[i]! / 2 / Math.max(model[i]!, 1e-12 * top, Number.MIN_VALUE) ** 2
}
