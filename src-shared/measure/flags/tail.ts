import { windowMean, type Series } from '../../signal/series.ts'
import type { NoiseModel } from '../noise-model.ts'

/** Where the end of the dwell leads. */
export interface Tail {
  /** Level that the exponential through the late dwell tends to, V, and its standard uncertainty. */
  readonly finalV: number
  readonly uV: number
  /** A straight line describes the late dwell at least as well as any of the exponentials; its slope, V per sample. */
  readonly isLine: boolean
  readonly slopeV: number
}

/** Part of the dwell the tail is fitted in, blocks it is averaged in, fewest samples. */
const LATE = 0.65
const BLOCKS = 40
const FEWEST = 12
/** Time constants tried, in parts of the transition's own 10–90 % duration. */
const CONSTANTS = [0.3, 0.45, 0.65, 0.9, 1.3, 2] as const
const ROUNDS = 8
/** Change between the two halves of the late dwell, in its uncertainties, from which a tail is looked for at all. */
const NOISE_REACH = 4

export interface TailRipple {
  /** Ripple left in the series: period in samples (0: none) and size, and the ends the centred mean spoils, samples. */
  readonly period: number
  readonly rippleV: number
  readonly margin: number
}

/**
 * Exponential a + b·exp(−k/τ) through the last two thirds of the dwell, τ by least squares between 0.3 and 2 times
 * the transition's duration.
 * @param mid 50 % crossing, `scale` the 10–90 % duration, samples
 * @returns null where the end of the dwell does not move by more than noise, or is too short to tell
 */
export function findTail(
  series: Series,
  noise: NoiseModel,
  mid: number,
  scale: number,
  { period, rippleV, margin }: TailRipple,
): Tail | null {
  const end = series.n - margin
  let first = Math.max(Math.ceil(end - LATE * (end - mid)), Math.ceil(mid + 0.2 * scale))
  // Whole ripple periods, so that their means are those of the signal.
  let block = Math.max(1, Math.floor((end - first) / BLOCKS))
  if (period > 0) block = Math.max(1, Math.ceil(block / period)) * period
  let count = Math.floor((end - first) / block)
  if (period > 0 && count < 4) return null
  if (end - first < FEWEST || count < 4) return null
  first = end - count * block
  const mean = (i: number): number =>
    windowMean(series, Math.round(first + i * block), Math.round(first + (i + 1) * block))
  const values: number[] = []
  for (let i = 0; i < count; i++) values.push(mean(i))
  count = values.length
  const sigma = Math.hypot(noise.sigmaV * Math.sqrt(noise.correlation / (block + noise.correlation - 1)), rippleV / 20)
  const half = count >> 1
  const early = average(values, 0, half)
  const late = average(values, count - half, count)
  const perBlock = Math.max(1, noise.correlation / block)
  if (Math.abs(late - early) <= NOISE_REACH * sigma * Math.sqrt((2 * perBlock) / half)) return null
  const at = (part: number): Fit => fitExponential(values, block / (part * scale))
  let best = 0
  let fit = at(CONSTANTS[0])
  for (let i = 1; i < CONSTANTS.length; i++) {
    const other = at(CONSTANTS[i]!)
    if (other.residue >= fit.residue) continue
    best = i
    fit = other
  }
  // Narrowed down between its neighbours by thirds of the ratio.
  let low = CONSTANTS[Math.max(0, best - 1)]!
  let high = CONSTANTS[Math.min(CONSTANTS.length - 1, best + 1)]!
  for (let round = 0; round < ROUNDS; round++) {
    const third = Math.cbrt(high / low)
    const [a, b] = [at(low * third), at(high / third)]
    if (a.residue < b.residue) high /= third
    else low *= third
    fit = [a, b].reduce((x, y) => (y.residue < x.residue ? y : x), fit)
  }
  const line = fitStraight(values)
  return {
    finalV: fit.a,
    uV: sigma * Math.sqrt(fit.variance * perBlock),
    isLine: line.residue <= fit.residue,
    slopeV: line.slope / block,
  }
}

/** Least-squares line through values one apart. */
function fitStraight(values: readonly number[]): { readonly slope: number; readonly residue: number } {
  const n = values.length
  const middle = (n - 1) / 2
  const mean = average(values, 0, n)
  let xx = 0
  let xy = 0
  let yy = 0
  for (let i = 0; i < n; i++) {
    const x = i - middle
    const y = values[i]! - mean
    xx += x * x
    xy += x * y
    yy += y * y
  }
  return { slope: xy / xx, residue: yy - (xy * xy) / xx }
}

function average(values: readonly number[], from: number, to: number): number {
  let sum = 0
  for (let i = from; i < to; i++) sum += values[i]!
  return sum / (to - from)
}

interface Fit {
  readonly a: number
  readonly variance: number
  readonly residue: number
}

/** Least-squares a + b·exp(−rate·i); variance is that of a for values of unit variance. */
function fitExponential(values: readonly number[], rate: number): Fit {
  const n = values.length
  let se = 0
  let see = 0
  let sy = 0
  let sye = 0
  let syy = 0
  for (let i = 0; i < n; i++) {
    const e = Math.exp(-rate * i)
    const y = values[i]! - values[n - 1]!
    se += e
    see += e * e
    sy += y
    sye += y * e
    syy += y * y
  }
  const det = n * see - se * se
  if (!(det > 1e-12 * n * see)) return { a: values[n - 1]!, variance: Infinity, residue: Infinity }
  const b = (n * sye - se * sy) / det
  const a = (sy - b * se) / n
  return { a: a + values[n - 1]!, variance: see / det, residue: syy - a * sy - b * sye }
}
