import { meanBetween, type Series } from '../signal/series.ts'
import { sigmaOfMean, type NoiseModel } from './noise-model.ts'

/** What the late dwell leads to. Positions in samples, levels in V. */
export interface TailFit {
  /** What the window's mean lacks to the level the tail ends at, and its standard uncertainty; 0 where it is a line. */
  readonly shortV: number
  readonly uV: number
  /** Time constant; Infinity where a straight line fits as well. */
  readonly tau: number
  /** Slope of the straight line through the same stretch, V per sample. */
  readonly slopeV: number
}

const BLOCKS = 40
const LEAST_BLOCKS = 8
/** Change between the halves of the stretch, in its standard uncertainties, from which there is anything to fit. */
const CHANGE = 3
/** λ·T that are tried: from a time constant of four lengths of the stretch to a twentieth of it. */
const RATES = [0.25, 0.5, 0.9, 1.4, 2, 2.8, 4, 5.6, 8, 12, 20] as const
/** 95 % point of F with one and about 38 degrees of freedom. */
const F95 = 4.1

const values = new Float64Array(BLOCKS)
const solved = { end: 0, residue: 0 }

/** Least squares of c₀ + c₁·(1 − e^(−λt))/λ, t from 0 to 1; leaves the level at t → ∞ and the residue in `solved`. */
function solve(count: number, rate: number): void {
  let se = 0
  let see = 0
  let sy = 0
  let sye = 0
  let syy = 0
  const origin = values[count - 1]!
  const ratio = Math.exp(-rate / count)
  let e = Math.exp(-rate / (2 * count))
  for (let i = 0; i < count; i++) {
    const y = values[i]! - origin
    se += e
    see += e * e
    sy += y
    sye += y * e
    syy += y * y
    e *= ratio
  }
  const det = count * see - se * se
  const b = (count * sye - se * sy) / det
  const a = (sy - b * se) / count
  solved.end = a + origin
  solved.residue = Math.max(0, syy - a * sy - b * sye)
}

/**
 * Exponential through samples first … end, its rate fitted from next to nothing (a straight line) up; the shortfall of
 * the level read from `window` with the interval of all rates that fit as well (profile of the residue).
 * @param period ripple left in the series, samples (0: none): blocks are whole periods
 * @returns null where nothing moves by more than noise, or too little is there to tell
 */
export function fitTail(
  series: Series,
  noise: NoiseModel,
  first: number,
  end: number,
  period: number,
  levelV: number,
): TailFit | null {
  let block = (end - 1 - first) / BLOCKS
  if (block < 1) block = 1
  if (period > 0) block = Math.ceil(block / period) * period
  const count = Math.min(BLOCKS, Math.floor((end - 1 - first) / block))
  if (count < LEAST_BLOCKS) return null
  const start = end - 1 - count * block
  for (let i = 0; i < count; i++) values[i] = meanBetween(series, start + i * block, start + (i + 1) * block)
  const half = count >> 1
  let early = 0
  let late = 0
  for (let i = 0; i < half; i++) {
    early += values[i]! / half
    late += values[count - 1 - i]! / half
  }
  const sigma = sigmaOfMean(noise, half * block)
  if (Math.abs(late - early) <= CHANGE * Math.SQRT2 * sigma) return null
  // Straight line.
  const middle = (count - 1) / 2
  let sx = 0
  let sxy = 0
  let mean = 0
  for (let i = 0; i < count; i++) mean += values[i]! / count
  let total = 0
  for (let i = 0; i < count; i++) {
    const y = values[i]! - mean
    sx += (i - middle) ** 2
    sxy += (i - middle) * y
    total += y * y
  }
  const slope = sxy / sx
  const straight = Math.max(0, total - slope * sxy)
  let best = Infinity
  let bestAt = 0
  for (let i = 0; i < RATES.length; i++) {
    solve(count, RATES[i]!)
    if (solved.residue < best) {
      best = solved.residue
      bestAt = i
    }
  }
  let low: number = RATES[Math.max(0, bestAt - 1)]!
  let high: number = RATES[Math.min(RATES.length - 1, bestAt + 1)]!
  let rate: number = RATES[bestAt]!
  for (let round = 0; round < 9; round++) {
    const third = Math.cbrt(high / low)
    solve(count, low * third)
    const a = solved.residue
    solve(count, high / third)
    const b = solved.residue
    if (a < b) high /= third
    else low *= third
    rate = Math.sqrt(low * high)
  }
  solve(count, rate)
  if (solved.residue > best) {
    rate = RATES[bestAt]!
    solve(count, rate)
  }
  best = solved.residue
  const floor = sigmaOfMean(noise, block) ** 2
  const perBlock = Math.max(best / Math.max(1, count - 3), 1e-9 * floor)
  const most = best + F95 * perBlock
  const shortOf = (): number => solved.end - levelV
  const shortV = shortOf()
  const span = count * block
  if (straight <= most) {
    // The line fits as well: anything from no more change to a tail as long as the stretch.
    return { shortV: 0, uV: Math.abs(slope / block) * span * SLOW_SHARE, tau: Infinity, slopeV: slope / block }
  }
  // Rates on either side that still fit.
  const bound = (toward: number): number => {
    let inside = rate
    let outside = toward
    solve(count, outside)
    if (solved.residue <= most) return shortOf()
    for (let round = 0; round < 10; round++) {
      const at = Math.sqrt(inside * outside)
      solve(count, at)
      if (solved.residue <= most) inside = at
      else outside = at
    }
    solve(count, inside)
    return shortOf()
  }
  const one = bound(RATES[0])
  const two = bound(RATES[RATES.length - 1]!)
  return { shortV, uV: Math.abs(one - two) / 4, tau: span / rate, slopeV: slope / block }
}

/** Remainder of a tail whose time constant is the stretch's length, over what its line rises there: 1/(e − 1). */
const SLOW_SHARE = 1 / (Math.E - 1)
