import { cornerPeak } from '../signal/kink-fit.ts'
import { parabolaVertex } from '../signal/line-fit.ts'
import { smoothAt, smoothedRun, strideOf, type Series } from '../signal/series.ts'
import { halfWidthFor, noiseReach, sigmaOfMean, type NoiseModel } from './noise-model.ts'

/** An excursion from the target: positive V past it (overshoot) or back short of it (undershoot). */
export interface Excursion {
  /** Size, V; 0 when nothing exceeds what noise (and lines left in the trace) alone would reach. */
  readonly sizeV: number
  /** Of the fit itself, by noise; of an excursion that is not there, by all that could hide one. */
  readonly uV: number
  /** Samples of a mean that the fit is worth, and what its choice leaves open, V. */
  readonly worth: number
  readonly openV: number
  /** Position of its extreme, samples; null when the size is 0. */
  readonly at: number | null
  /** Voltage at the extreme. */
  readonly volts: number | null
  /** Time outside the end band, samples; 0 when it stays inside, null when it has not ended where the search ends. */
  readonly length: number | null
  readonly span: readonly [number, number] | null
}

export interface Excursions {
  readonly overshoot: Excursion
  readonly undershoot: Excursion
  /** Largest size noise alone would reach, V: anything smaller is reported as 0. */
  readonly limitV: number
  /** Width of the mean that detects excursions, samples. */
  readonly width: number
}

/** Share of an excursion's size over which the parabola may reach down from its extreme. */
const MOST_DROP = 0.4
/** Without noise the parabola still reaches this far down, so that the rounding of single samples does not place it. */
const LEAST_DROP = 3e-4

/** Share of sound records in which noise shows no excursion of either kind: half of 1 % each. */
const CHANCE = 0.995

/** Detection aims at noise reaching no more than this share of the step. */
const AIM = 0.0025

/**
 * Furthest excursions after arrival.
 * Overshoot: furthest past the target. Undershoot: furthest short of it at a point where the signal has fallen back
 * from what it had reached; a signal that only ever approaches has none.
 * With noise the largest of many samples always lies past the target. Excursions are therefore detected through a
 * centred mean (wide enough that noise reaches 0.25 % of the step, at most a quarter of the transition's duration),
 * those that noise alone would reach in one record of two hundred are reported as 0 with that reach as their uncertainty,
 * and larger ones are measured by a parabola fitted to the plain samples around the extreme, over the stretch where
 * the detecting mean stays within four of its own σ (at most 40 % of the size) of it. Without noise it reaches down by
 * 0.03 % of the size, through three samples at least.
 * @param from first sample looked at (arrival), `end` one past the last
 * @param band end band [low, high] in V for the lengths; null leaves lengths null
 * @param leftV how far what is left in the trace reaches (lines, drift), V
 * @param levelV what slow noise makes the far end of the search and the level differ by, standard uncertainty, V
 */
export function findExcursions(
  series: Series,
  noise: NoiseModel,
  from: number,
  end: number,
  targetV: number,
  stepV: number,
  scale: number,
  band: readonly [number, number] | null,
  leftV = 0,
  levelV = 0,
): Excursions {
  const sign = stepV > 0 ? 1 : -1
  const first = Math.max(0, Math.ceil(from))
  const samples = Math.max(1, end - first)
  const size = Math.abs(stepV)
  const half = halfWidthFor(noise, samples, AIM * size, scale / 4)
  const width = 2 * half + 1
  const sigma = sigmaOfMean(noise, width)
  const limitV =
    (noise.sigmaV > 0 ? noiseReach(noise, samples, width, CHANCE) * Math.hypot(sigma, levelV) : 1e-9 * size) + leftV
  let high = -Infinity
  let highAt = -1
  let reached = -Infinity
  let deepest = 0
  let deepAt = -1
  const stride = strideOf(half)
  const run = smoothedRun(series, half, first, end, stride)
  let i = 0
  // Up to the target …
  for (; i < run.length && reached < 0; i++) {
    const e = sign * (run[i]! - targetV)
    if (e > high) {
      high = e
      highAt = i
    }
    const short = Math.min(e, 0)
    if (short > reached) reached = short
    else if (reached - short > deepest) {
      deepest = reached - short
      deepAt = i
    }
  }
  // … and from there on, when falling back is being short of it.
  for (; i < run.length; i++) {
    const e = sign * (run[i]! - targetV)
    if (e > high) {
      high = e
      highAt = i
    } else if (-e > deepest) {
      deepest = -e
      deepAt = i
    }
  }
  const search = { series, noise, half, sigma, first, end, targetV, scale, band }
  // Two noisy values make a fall-back: √2 of the reach of one.
  const fallback = deepest > Math.SQRT2 * limitV
  return {
    overshoot: high > limitV ? extreme(search, first + highAt * stride, sign) : none(limitV),
    undershoot: fallback ? extreme(search, first + deepAt * stride, -sign) : none(Math.SQRT2 * limitV),
    limitV,
    width,
  }
}

function none(limitV: number): Excursion {
  return { sizeV: 0, uV: limitV / Math.sqrt(3), worth: 0, openV: 0, at: null, volts: null, length: 0, span: null }
}

interface Extreme {
  readonly series: Series
  readonly noise: NoiseModel
  /** Half width of the detecting mean, and its σ, V. */
  readonly half: number
  readonly sigma: number
  readonly first: number
  readonly end: number
  readonly targetV: number
  readonly scale: number
}

interface Search extends Extreme {
  readonly band: readonly [number, number] | null
}

/** Times the stretch of a fit is looked for anew from what it gave. */
const WIDER_ROUNDS = 3

/** Ratio of the second differences at and beside a peak from which its samples straddle a corner. */
const SHARP = 3

/**
 * Extreme around sample k by a local fit; `side` is the sign of its voltage from the target. A parabola, or two lines
 * where the samples show a corner (the end of a boosted frame).
 */
export function fitExtreme(
  { series, noise, half, sigma, first, end, targetV, scale }: Extreme,
  k: number,
  side: number,
): { volts: number; at: number; uV: number; worth: number; openV: number; from: number; to: number } {
  const reach = Math.max(1, Math.ceil(scale))
  /** Stretch around a sample over which a mean stays within four of its own σ, at most 40 % of the size, of it. */
  const around = (centre: number, mean: number, known: number | null = null): { from: number; to: number } => {
    const value = (i: number): number => side * (smoothAt(series, mean, i) - targetV)
    const peak = known ?? value(centre)
    const drop = Math.min(MOST_DROP * peak, Math.max(LEAST_DROP * peak, 4 * sigma))
    let from = centre
    while (from > first && centre - from < reach && value(from - 1) >= peak - drop) from--
    let to = centre
    while (to < end - 1 && to - centre < reach && value(to + 1) >= peak - drop) to++
    return { from, to }
  }
  let { from, to } = around(k, half)
  if (to - from < 2) {
    from = Math.max(first, k - 1)
    to = Math.min(end - 1, k + 1)
  }
  let vertex = parabolaVertex(series.v, from, to, k, side)
  // The largest of many readings is high by noise, so that the stretch counted from it ends too early: once more from the
  // fitted value, through a mean that noise no longer makes leave it.
  for (
    let round = 0;
    round < WIDER_ROUNDS && noise.sigmaV > 0 && vertex && vertex.value * side > targetV * side;
    round++
  ) {
    const wider = (to - from) >> 3
    if (wider <= half) break
    const again = around(Math.round(vertex.at), wider, side * (vertex.value - targetV))
    if (again.to - again.from <= to - from) break
    ;({ from, to } = again)
    vertex = parabolaVertex(series.v, from, to, k, side)
  }
  const fitted = vertex && vertex.value * side > targetV * side ? vertex : null
  // The mean that found the stretch has drawn it together by half its width on the steeper side of a corner.
  const longer = k - from - (to - k)
  const left = Math.max(first, from - Math.min(half, Math.max(0, -longer)))
  const right = Math.min(end - 1, to + Math.min(half, Math.max(0, longer)))
  const corner = cornerPeak(series.v, left, right, Math.ceil(noise.correlation), side, fitted)
  if (corner !== null && corner.isCorner && corner.value * side > targetV * side) {
    const uV = sigmaOfMean(noise, corner.worth)
    return { volts: corner.value, at: corner.at, uV, worth: corner.worth, openV: corner.open, from, to }
  }
  const points = to - from + 1
  // Variance of a fitted parabola at its centre is 9/(4n) of a sample's.
  const worth = fitted && points > 3 ? Math.max(1, points / 2.25) : 2 * half + 1
  let openV = corner === null || corner.isCorner ? 0 : corner.open
  if (points <= 5 && k > 0 && k + 1 < series.n) {
    // Too few samples for a fit: a corner between two of them would lie up to a quarter of the second difference higher.
    const { v } = series
    const bend = (i: number): number => (i > 0 && i + 1 < series.n ? Math.abs(v[i - 1]! - 2 * v[i]! + v[i + 1]!) : 0)
    const here = bend(k)
    if (here > SHARP * Math.min(bend(k - 1), bend(k + 1))) openV = here / 4 / Math.sqrt(3)
  }
  const volts = fitted ? fitted.value : smoothAt(series, half, k)
  return { volts, at: fitted ? fitted.at : k, uV: sigmaOfMean(noise, worth), worth, openV, from, to }
}

/** Measures the excursion around sample k; `side` is the sign of its voltage from the target. */
function extreme(search: Search, k: number, side: number): Excursion {
  const { targetV } = search
  const { volts, at, uV, worth, openV, from, to } = fitExtreme(search, k, side)
  const span = outside(search, k, side)
  return {
    sizeV: Math.max(0, side * (volts - targetV)),
    uV,
    worth,
    openV,
    at,
    volts,
    length: span === null ? (search.band === null ? null : 0) : span.open ? null : span.to - span.from,
    span: span ? [Math.floor(span.from), Math.ceil(span.to)] : [from, to],
  }
}

/** Stretch around k that lies outside the end band; null when k lies inside or there is no band. */
function outside(search: Search, k: number, side: number): { from: number; to: number; open: boolean } | null {
  const { series, half, first, end, band } = search
  if (band === null) return null
  const edge = side > 0 ? band[1] : band[0]
  const value = (i: number): number => side * (smoothAt(series, half, i) - edge)
  const top = value(k)
  if (!(top > 0)) return null
  let from: number = first
  let previous = top
  for (let i = k - 1; i >= first; i--) {
    const y = value(i)
    if (y <= 0) {
      from = i + -y / (previous - y)
      break
    }
    previous = y
  }
  previous = top
  for (let i = k + 1; i < end; i++) {
    const y = value(i)
    if (y <= 0) return { from, to: i - 1 + previous / (previous - y), open: false }
    previous = y
  }
  return { from, to: end - 1, open: true }
}
