import { lastPassage, reachAfter, reachBefore, reachNearest } from '../signal/crossings.ts'
import { valueAt, type Series } from '../signal/series.ts'
import { bentBy } from './bending.ts'
import type { Levels } from './levels.ts'
import { addLevels, addRead, addTerm } from './budget.ts'
import { sigmaOfMean, type NoiseModel } from './noise-model.ts'
import type { LineLeft, Residuals } from './residuals.ts'

/** Widest mean through which a crossing is read, as a share of the 10–90 % duration: broadens it by under 0.1 %. */
const CROSSING_SHARE = 0.05
/** The same where the signal is so flat that noise needs more: shifts a first-order crossing by under 0.02 τ. */
export const FLAT_SHARE = 0.25

/**
 * Reads crossings of one step. Where noise exceeds what the signal gains from sample to sample, the first sample
 * beyond a level comes too early. Crossings are then read through a centred mean just wide enough for the slope there,
 * at most a twentieth of the 10–90 % duration (over which a pure exponential's duration does not change) or a quarter
 * where the signal is flat; and where noise still makes it pass the level several times, the middle of the first and
 * the last passage counts. Without noise plain samples and the first passage outward from 50 % decide.
 */
export interface Clock {
  readonly series: Series
  readonly levels: Levels
  readonly noise: NoiseModel
  /** 10–90 % duration of the luminance step, samples: the transition's own time scale, at least 1. */
  readonly scale: number
  /** 50 % crossing of the luminance step, samples. */
  readonly mid: number
  /** Rms (samples) by which the phase of ripple that was averaged over its period moves a crossing; 0 without. */
  readonly shift: number
  /** Width of the mean the recipe conditions by, samples; 0 without one. */
  readonly meanWidth: number
}

/** The clock with all that is left in its series: what crossings are read and judged with. */
export interface Reader extends Clock {
  readonly residuals: Residuals
}

/**
 * Half width of the mean that keeps noise below what a slope (V per sample) gains over half the mean. Only what noise
 * changes by from sample to sample makes a signal pass a level twice: σ·√(1 − ρ₁), all of σ where it is white.
 */
export function slopeHalf(noise: NoiseModel, slope: number, cap: number): number {
  if (!(noise.sigmaV > 0)) return 0
  const need = 4 * Math.cbrt((noise.sigmaV / slope) ** 2 * Math.max(0, 1 - noise.rho))
  return Math.max(0, Math.floor((Math.min(need, cap) - 1) / 2))
}

/** Slope of a first-order response of this time scale at a share of the step, V per sample. */
function modelSlope(levels: Levels, scale: number, share: number): number {
  return (2.197 * Math.max(0.01, Math.min(share, 1 - share)) * Math.abs(levels.stepV)) / scale
}

const shareOf = (levels: Levels, volts: number): number => (volts - levels.beforeV) / levels.stepV

/** Finds the step's own 50 % crossing and time scale near a rough position; null when it never crosses its middle. */
export function startClock(
  series: Series,
  levels: Levels,
  noise: NoiseModel,
  near: number,
  shift: number,
  meanWidth = 0,
): Clock | null {
  const { sign, beforeV, stepV } = levels
  const midV = beforeV + 0.5 * stepV
  let scale = 1
  let mid: number | null = null
  for (let round = 0; round < 5; round++) {
    const half = round === 0 ? 0 : slopeHalf(noise, modelSlope(levels, scale, 0.1), CROSSING_SHARE * scale)
    const found = reachNearest(series, half, mid ?? near, midV, sign)
    if (found === null) break
    mid = found
    const x10 = reachBefore(series, half, found, beforeV + 0.1 * stepV, sign)
    const x90 = reachAfter(series, half, found, beforeV + 0.9 * stepV, sign)
    const next = Math.max(1, x10 !== null && x90 !== null ? x90 - x10 : 2 * ((x90 ?? series.n - 1) - (x10 ?? 0)))
    const settled = Math.abs(next - scale) < 0.01 * scale
    scale = next
    if (!(noise.sigmaV > 0) || (round > 0 && settled)) break
  }
  return mid === null ? null : { series, levels, noise, scale, mid, shift, meanWidth }
}

/** What a threshold moves by for each volt of the level before the step and after it, and by the ladder, V. */
export interface Moves {
  readonly before: number
  readonly after: number
  readonly ladderV: number
}

/** Of a threshold at a fixed share of the step. */
export function shareMoves(levels: Levels, volts: number): Moves {
  const share = shareOf(levels, volts)
  return { before: 1 - share, after: share, ladderV: 0 }
}

/** A crossing: its position in samples, the mean it is read through, the slope there in V per sample, its level. */
export interface Crossing {
  readonly x: number
  readonly width: number
  /** Where within its mean the step lies, samples; null where the mean is short. */
  readonly step: number | null
  /** As it was seen, noise and all. */
  readonly seen: number
  /** Of its size; the sign is the step's, or against it where the signal comes back from beyond. */
  readonly slope: number
  readonly direction: 1 | -1
  readonly volts: number
  readonly share: number
  /** Samples between the first and the last passage that noise makes of it. */
  readonly spread: number
  readonly moves: Moves
  /** Standard uncertainty by the line between samples, samples. */
  readonly interpolation: number
  /** What the mean of the recipe's conditioning adds to the value there, V. */
  readonly bentV: number
}

/**
 * Crossing of `volts` outward from the 50 % crossing; null when the record never gets there.
 * @param moves what the levels' uncertainties do to `volts` where it is not simply a share of the step
 */
export function crossingOf(clock: Reader, volts: number, moves: Moves | null = null): Crossing | null {
  const { series, levels, noise, scale, residuals } = clock
  const share = shareOf(levels, volts)
  const outward = share <= 0.5 ? -1 : 1
  const passes = (half: number, level: number): number | null =>
    outward < 0
      ? reachBefore(series, half, clock.mid, level, levels.sign)
      : reachAfter(series, half, clock.mid, level, levels.sign)
  const first = (half: number): number | null => passes(half, volts)
  let half = slopeHalf(noise, modelSlope(levels, scale, share), CROSSING_SHARE * scale)
  let x = first(half)
  if (x === null) return null
  const state = outward < 0 ? levels.beforeV : levels.afterV
  const found = (at: number, spread: number): Crossing => {
    const crossing = crossingAt(clock, at, volts, half, spread, moves)
    // A level in doubt by as much as the signal still has to go (near black in codes, before a slow tail): there the
    // slope at one point says nothing. The mean slope over what the level moves by.
    const { before, after, ladderV } = crossing.moves
    const lineV = residuals.lines.reduce((sum, line) => sum + lineAt(line, share), 0)
    const doubtV = Math.hypot(before * residuals.before.totalV, after * residuals.after.totalV, ladderV, lineV)
    const by = Math.hypot(doubtV, sigmaOfMean(noise, crossing.width))
    if (moves === null && doubtV < BY_DOUBT * Math.abs(volts - state)) return crossing
    const outer = Math.min(by, MOST_OUTWARD * Math.abs(volts - state))
    const towards = volts < state ? 1 : -1
    const near = passes(half, volts - towards * by)
    const far = passes(half, volts + towards * outer)
    if (near === null || far === null || near === far) return crossing
    return { ...crossing, slope: Math.min(crossing.slope, (by + outer) / Math.abs(far - near)) }
  }
  const { peakV } = residuals
  if (!(noise.sigmaV > 0) && peakV === 0) return found(x, 0)
  // Once more with the slope found there; only a flat signal is read through more than a twentieth.
  const slope = crossingAt(clock, x, volts, half).seen
  const again = slopeHalf(noise, slope, FLAT_SHARE * scale)
  if (again > half || slopeHalf(noise, slope, CROSSING_SHARE * scale) < half) {
    half = again
    x = first(half) ?? x
  }
  const sigma = sigmaOfMean(noise, 2 * half + 1)
  const room = MOST_OUTWARD * Math.abs(volts - state)
  const guard = Math.min(PASSAGE_REACH * sigma + peakV, room)
  const last = lastPassage(series, half, x, volts, levels.sign, guard, outward)
  return found((x + last) / 2, Math.abs(last - x))
}

/** Amplitude of a line at a share of the step, V. */
const lineAt = ({ before, after }: LineLeft, share: number): number => Math.abs(before + share * (after - before))

/** Doubt of a threshold, over its distance to the state level, from which its mean slope counts. */
const BY_DOUBT = 0.1

/** Part of the way from a threshold to the state level beyond it within which passages are looked for. */
const MOST_OUTWARD = 0.8

/** Multiples of σ beyond a level after which the signal counts as having passed it for good. */
export const PASSAGE_REACH = 3.5

/** Slope and noise of a crossing at a known position. */
export function crossingAt(
  clock: Reader,
  x: number,
  volts: number,
  half = 0,
  spread = 0,
  moves: Moves | null = null,
  direction: 1 | -1 = 1,
): Crossing {
  const { series, levels, noise, scale } = clock
  const sign = direction * levels.sign
  const over = (by: number): number =>
    (sign * (valueAt(series, half, x + by) - valueAt(series, half, x - by))) / (2 * by)
  const noiseOver = (by: number): number => (Math.SQRT2 * sigmaOfMean(noise, 2 * half + 1)) / (2 * by)
  // Over no more than it takes to see the slope through the noise.
  let reach = Math.max(1, half, scale / 40)
  let measured = over(reach)
  while (reach < scale / 8 && noiseOver(reach) > measured / 8) measured = over((reach *= 2))
  // Noise can flatten the measured slope; a quarter of a first-order response's is the least that is believed. Ripple
  // can make it steeper than the signal itself is.
  const usual = modelSlope(levels, scale, shareOf(levels, volts))
  const least = 0.25 * usual
  // What noise makes of the measured slope against how well the other is known (to half of the larger): weighed by both.
  const uMeasured = noiseOver(reach)
  const known = Math.max(usual, measured) / 2
  const trust = known ** 2 / (known ** 2 + uMeasured ** 2)
  const weighed = usual + trust * (measured - usual)
  let lineSlope = 0
  for (const line of clock.residuals.lines) {
    lineSlope += 2 * Math.PI * line.frequency * lineAt(line, shareOf(levels, volts))
  }
  // Of a staircase of the converter's steps the slope is that over several of them.
  const { lsbV, roundingV } = clock.residuals
  let stairs = Infinity
  if (roundingV > 0 && lsbV > 0) {
    for (let wide = reach; wide < series.n / 8; wide *= 2) {
      const gained = sign * (valueAt(series, half, x + wide) - valueAt(series, half, x - wide))
      if (gained < STAIRS * lsbV) continue
      stairs = gained / (2 * wide)
      break
    }
  }
  const slope = Math.min(stairs, Math.max(lineSlope > usual ? Math.min(weighed, usual) : weighed, least))
  return {
    x,
    width: Math.max(2 * half + 1, noise.width),
    step: null,
    seen: Math.max(lineSlope > usual ? Math.min(measured, usual) : measured, least),
    slope,
    volts,
    share: shareOf(levels, volts),
    direction,
    spread,
    moves: moves ?? shareMoves(levels, volts),
    interpolation: half > 0 ? readThrough(2 * half + 1, scale) : interpolation(series, x, noise.sigmaV),
    bentV: bentBy(series, clock.meanWidth, x),
  }
}

/** Steps of the converter over which the slope of a staircase is taken. */
const STAIRS = 3

/**
 * Standard uncertainty, samples, of a crossing by reading it through a mean of `width`: what the mean moves a first-order
 * response of this 10–90 % duration by, width²/24τ, uniform.
 */
function readThrough(width: number, scale: number): number {
  return (width * width * Math.log(9)) / (24 * scale) / Math.sqrt(3)
}

/**
 * Standard uncertainty of a position between two samples by taking the line between them. A smooth signal is off by up
 * to D₂/8Δ of a sample, D₂ the larger second difference and Δ the change between the two. With a corner between them it
 * lies anywhere up to where the lines continued from either side reach the level; they are steepened by as much as the
 * slope changes from one pair of samples to the next. Uniform over the larger of these.
 * Source: remainder of linear interpolation; one kink between samples, closed form.
 */
export function interpolation(series: Series, x: number, sigmaV: number): number {
  const k = Math.floor(x)
  if (k < 2 || k + 3 >= series.n) return Math.sqrt(1 / 12)
  const { v } = series
  const step = v[k + 1]! - v[k]!
  const size = Math.abs(step)
  if (!(size > 0)) return Math.sqrt(1 / 12)
  // Second differences of white noise: 6 σ².
  const noise = 6 * sigmaV * sigmaV
  const left = v[k - 1]! - 2 * v[k]! + v[k + 1]!
  const right = v[k]! - 2 * v[k + 1]! + v[k + 2]!
  const bend = Math.max(left * left, right * right) - noise
  if (!(bend > 0)) return 0
  const f = x - k
  const level = v[k]! + f * step
  const from = (place: number, at: number, slope: number, next: number): number => {
    const steep = slope + (Math.abs(slope) > Math.abs(next) ? slope - next : 0)
    if (!(steep * step > 0)) return 0
    const reached = place + (level - at) / steep
    return Math.abs(Math.max(0, Math.min(1, reached)) - f)
  }
  const apart = Math.max(
    from(1, v[k + 1]!, v[k + 2]! - v[k + 1]!, v[k + 3]! - v[k + 2]!),
    from(0, v[k]!, v[k]! - v[k - 1]!, v[k - 1]! - v[k - 2]!),
  )
  const corner = Math.sqrt(Math.max(0, apart * apart - noise / (size * size)))
  return Math.min(1, Math.max(Math.sqrt(bend) / 8 / size, corner)) / Math.sqrt(3)
}

/** Uniform spread between two passages. */
const SPREAD = Math.sqrt(12)

/** Adds the instant of a crossing, times `weight` (in the result's unit per sample), to the budget of a result. */
export function addCrossing(reader: Reader, crossing: Crossing, weight: number): void {
  const { levels, residuals } = reader
  const gradient = levels.sign * crossing.direction * crossing.slope
  // The instant moves by what its level moves, less what the reading does, over the slope.
  const perVolt = weight / gradient
  addLevels(levels, perVolt * crossing.moves.before, perVolt * crossing.moves.after)
  const { x, width, share, step, bentV } = crossing
  addRead({ x, width, share, step, gradient, bentV }, -perVolt, residuals)
  addTerm('noise', (weight * crossing.spread) / SPREAD)
  addTerm('ripple', weight * reader.shift)
  addTerm('ladder', perVolt * crossing.moves.ladderV)
  addTerm('interpolation', weight * crossing.interpolation)
}
