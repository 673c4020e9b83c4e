import { studentTUpper } from '../signal/distributions.ts'
import { windowMean, type Series } from '../signal/series.ts'
import { sigmaOfMean, type NoiseModel } from './noise-model.ts'

/** Where the end of the dwell leads. */
export interface Tail {
  /** Level that the exponential through the late dwell tends to, V, and its standard uncertainty. */
  readonly finalV: number
  readonly uV: number
  /**
   * That level by the shortest and by the longest time constant that fit as well (95 %); the second null where a
   * straight line does: then the level has no upper bound, and `finalV` is the first.
   */
  readonly nearV: number
  readonly farV: number | null
  /** Time constant, samples; that of `finalV`. */
  readonly tau: number
  /** What is still to come where the fit begins, V, and that sample. */
  readonly leftV: number
  readonly first: number
  /** A straight line describes the late dwell as well as an exponential; its slope, V per sample. */
  readonly isLine: boolean
  readonly slopeV: number
}

/** Part of the dwell the tail is fitted in, blocks it is averaged in, fewest samples. */
const LATE = 0.65
const BLOCKS = 40
const FEWEST = 12
/** Rates tried, in reciprocal lengths of the part fitted: from nearly a straight line to what is over within it. */
const RATES = [0.05, 0.1, 0.2, 0.35, 0.6, 1, 1.6, 2.5, 4, 6.5, 10, 16, 25] as const
/** Share of a rate to which it is refined. */
const FINE = 1e-3

export interface TailRipple {
  /** Ripple left in the series: period in samples (0: none) and size, and the ends the centred mean spoils, samples. */
  readonly period: number
  readonly rippleV: number
  readonly margin: number
}

/**
 * Exponential through the last two thirds of the dwell: y = c₀ + c₁(1 − e^(−λt))/λ, which is a straight line at λ = 0,
 * by least squares at every λ, and the interval of λ that Student's t allows (profile of the residue).
 * @param mid 50 % crossing, `scale` the 10–90 % duration, samples
 * @param reach standard uncertainties by which the two halves of the late dwell must differ; `dof` of the noise
 * @returns null where the end of the dwell does not move by more than noise, or is too short to tell
 */
export function findTail(
  series: Series,
  noise: NoiseModel,
  mid: number,
  scale: number,
  { period, rippleV, margin }: TailRipple,
  reach: number,
): Tail | null {
  const end = series.n - margin
  let first = Math.max(Math.ceil(end - LATE * (end - mid)), Math.ceil(mid + 0.2 * scale))
  // Whole ripple periods, so that their means are those of the signal.
  let block = Math.max(1, Math.floor((end - first) / BLOCKS))
  if (period > 0) block = Math.max(1, Math.ceil(block / period)) * period
  const count = Math.floor((end - first) / block)
  if (count < 6 || end - first < FEWEST) return null
  first = end - count * block
  const values = Float64Array.from({ length: count }, (_, i) =>
    windowMean(series, Math.round(first + i * block), Math.round(first + (i + 1) * block)),
  )
  const half = count >> 1
  const moved = average(values, count - half, count) - average(values, 0, half)
  if (Math.abs(moved) <= reach * Math.hypot(uOfHalves(noise, half * block), rippleV / 20 / Math.sqrt(half))) return null
  const at = (rate: number): Fit => fitAt(values, rate / count)
  let best = 0
  let fit = at(0)
  const line = fit
  for (const rate of RATES) {
    const other = at(rate)
    if (other.residue >= fit.residue) continue
    best = rate
    fit = other
  }
  const rate = best === 0 ? 0 : refined(at, best)
  fit = at(rate)
  const dof = Math.max(1, count - 3)
  const own = Math.max(fit.residue, dof * blockVariance(noise, block), 1e-30)
  const allowed = fit.residue + (own / dof) * studentTUpper(0.025, dof) ** 2
  const fast = edgeOf(at, Math.max(rate, RATES[0]), RATES.at(-1)! * 2, allowed)
  const nearV = at(fast).end
  const isLine = line.residue <= allowed
  const used = isLine ? fast : rate
  const chosen = isLine ? at(fast) : fit
  const farV = isLine ? null : at(edgeOf(at, rate, 0, allowed)).end
  return {
    finalV: chosen.end,
    uV: farV === null ? Infinity : Math.abs(farV - nearV) / (2 * studentTUpper(0.025, dof)),
    nearV,
    farV,
    tau: (count * block) / used,
    leftV: chosen.end - chosen.start,
    first,
    isLine,
    slopeV: line.slope / block,
  }
}

/** Standard uncertainty of the difference of the means of two neighbouring stretches of `length` samples each. */
export function uOfHalves(noise: NoiseModel, length: number): number {
  return 2 * Math.sqrt(Math.max(0, sigmaOfMean(noise, length) ** 2 - sigmaOfMean(noise, 2 * length) ** 2))
}

function blockVariance(noise: NoiseModel, block: number): number {
  return sigmaOfMean(noise, block) ** 2
}

function average(values: Float64Array, from: number, to: number): number {
  let sum = 0
  for (let i = from; i < to; i++) sum += values[i]!
  return sum / (to - from)
}

/** Rate of the least residue around the best of those tried, by golden section. */
function refined(at: (rate: number) => Fit, best: number): number {
  const golden = (Math.sqrt(5) - 1) / 2
  let low = best / 1.9
  let high = best * 1.9
  let a = high - golden * (high - low)
  let b = low + golden * (high - low)
  let [ra, rb] = [at(a).residue, at(b).residue]
  while (high - low > FINE * best) {
    if (ra < rb) {
      high = b
      b = a
      rb = ra
      a = high - golden * (high - low)
      ra = at(a).residue
    } else {
      low = a
      a = b
      ra = rb
      b = low + golden * (high - low)
      rb = at(b).residue
    }
  }
  return (low + high) / 2
}

/** Rate between `inside` and `outside` at which the residue reaches what is allowed; `outside` where it does not. */
function edgeOf(at: (rate: number) => Fit, inside: number, outside: number, allowed: number): number {
  if (at(outside).residue <= allowed) return outside
  let a = inside
  let b = outside
  while (Math.abs(b - a) > FINE * Math.max(a, b)) {
    const middle = (a + b) / 2
    if (at(middle).residue <= allowed) a = middle
    else b = middle
  }
  return a
}

interface Fit {
  readonly residue: number
  /** Level at the first block's start and the one it tends to; not finite at rate 0. */
  readonly start: number
  readonly end: number
  /** Slope at the start, per block. */
  readonly slope: number
}

/** Least-squares c₀ + c₁(1 − e^(−rate·t))/rate, t in blocks from the first one's start, values at their middles. */
function fitAt(values: Float64Array, rate: number): Fit {
  const n = values.length
  const origin = values[n - 1]!
  let sx = 0
  let sxx = 0
  let sy = 0
  let sxy = 0
  let syy = 0
  // Mean of the basis over a block.
  const shape = rate > 0 ? -Math.expm1(-rate) / rate : 1
  let e = shape
  const decay = Math.exp(-rate)
  for (let i = 0; i < n; i++) {
    const x = rate > 1e-9 ? (1 - e) / rate : i + 0.5
    const y = values[i]! - origin
    sx += x
    sxx += x * x
    sy += y
    sxy += x * y
    syy += y * y
    e *= decay
  }
  const det = n * sxx - sx * sx
  const c1 = (n * sxy - sx * sy) / det
  const c0 = (sy - c1 * sx) / n
  return {
    residue: Math.max(0, syy - c0 * sy - c1 * sxy),
    start: origin + c0,
    end: rate > 1e-9 ? origin + c0 + c1 / rate : origin + c0 + Math.sign(c1) * Infinity,
    slope: c1,
  }
}
