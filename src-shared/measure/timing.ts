import { lastPassage, reachAfter, reachBefore, reachNearest } from '../signal/crossings.ts'
import { valueAt, type Series } from '../signal/series.ts'
import type { Levels } from './levels.ts'
import { sigmaOfMean, type NoiseModel } from './noise-model.ts'

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
  readonly ripple: RippleLeft
}

/**
 * What ripple leaves in the series: its rms as a share of the light above `darkV` where it is still there, and where it
 * was averaged over its period the rms (samples) by which its phase moves a crossing; 0 each when there is none.
 */
export interface RippleLeft {
  readonly share: number
  readonly darkV: number
  readonly shift: number
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
  ripple: RippleLeft,
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
  return mid === null ? null : { series, levels, noise, scale, mid, ripple }
}

/** Volts by which a threshold moves with one standard uncertainty of the level before the step and after it; signed. */
export interface Moves {
  readonly before: number
  readonly after: number
}

/** Of a threshold at a fixed share of the step. */
export function shareMoves(levels: Levels, volts: number): Moves {
  const share = shareOf(levels, volts)
  return { before: levels.uEdgeBeforeV * (1 - share), after: levels.uEdgeAfterV * share }
}

/** A crossing: its position in samples, the slope there in V per sample, the noise it is read with, its level. */
export interface Crossing {
  readonly x: number
  readonly slope: number
  readonly sigmaV: number
  readonly volts: number
  /** Samples between the first and the last passage that noise makes of it. */
  readonly spread: number
  /** What the level itself moves by. */
  readonly moves: Moves
  /** Rms of the ripple left at this level, V, and of the shift by the phase of ripple averaged away, samples. */
  readonly rippleV: number
  readonly shift: number
}

/**
 * Crossing of `volts` outward from the 50 % crossing; null when the record never gets there.
 * @param moves what the levels' uncertainties do to `volts` where it is not simply a share of the step
 */
export function crossingOf(clock: Clock, volts: number, moves: Moves | null = null): Crossing | null {
  const { series, levels, noise, scale } = clock
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
    if (moves === null) return crossing
    // Where codes place the level, it moves by so much near black that a slope at one point says nothing: mean slope
    // over what it moves by.
    const by = Math.hypot(moves.before, moves.after, crossing.sigmaV)
    const outer = Math.min(by, MOST_OUTWARD * Math.abs(volts - state))
    const towards = volts < state ? 1 : -1
    const near = passes(half, volts - towards * by)
    const far = passes(half, volts + towards * outer)
    if (near === null || far === null || near === far) return crossing
    return { ...crossing, slope: Math.min(crossing.slope, (by + outer) / Math.abs(far - near)) }
  }
  if (!(noise.sigmaV > 0)) return found(x, 0)
  // Once more with the slope found there; only a flat signal is read through more than a twentieth.
  const slope = crossingAt(clock, x, volts, half).slope
  const again = slopeHalf(noise, slope, FLAT_SHARE * scale)
  if (again > half || slopeHalf(noise, slope, CROSSING_SHARE * scale) < half) {
    half = again
    x = first(half) ?? x
  }
  const sigma = sigmaOfMean(noise, 2 * half + 1)
  const room = MOST_OUTWARD * Math.abs(volts - state)
  const guard = Math.min(PASSAGE_REACH * sigma, room)
  const last = lastPassage(series, half, x, volts, levels.sign, guard, outward)
  return found((x + last) / 2, Math.abs(last - x))
}

/** Part of the way from a threshold to the state level beyond it within which passages are looked for. */
const MOST_OUTWARD = 0.8

/** Multiples of σ beyond a level after which the signal counts as having passed it for good. */
export const PASSAGE_REACH = 3.5

/** Slope and noise of a crossing at a known position. */
export function crossingAt(
  clock: Clock,
  x: number,
  volts: number,
  half = 0,
  spread = 0,
  moves: Moves | null = null,
): Crossing {
  const { series, levels, noise, scale } = clock
  const reach = Math.max(1, half, scale / 40)
  const measured = (levels.sign * (valueAt(series, half, x + reach) - valueAt(series, half, x - reach))) / (2 * reach)
  // Noise can flatten the measured slope; a quarter of a first-order response's is the least that is believed.
  const least = 0.25 * modelSlope(levels, scale, shareOf(levels, volts))
  // A position between two plain samples averages them: (1−f)² + f² is 2/3 on average.
  const sigmaV = half === 0 ? noise.sigmaV * Math.sqrt(2 / 3) : sigmaOfMean(noise, 2 * half + 1)
  return {
    x,
    slope: Math.max(measured, least),
    sigmaV,
    volts,
    spread,
    moves: moves ?? shareMoves(levels, volts),
    rippleV: clock.ripple.share * Math.abs(volts - clock.ripple.darkV),
    shift: clock.ripple.shift,
  }
}

/** Interpolation error of a first-order response at its worst phase: 0.85/n of a sample for n samples per duration. */
const INTERPOLATION = 0.85

/** Uniform spread between two passages. */
const SPREAD = Math.sqrt(12)

/**
 * Standard uncertainty, samples, of the time from crossing a to crossing b: noise over slope at both, ripple that
 * is left or was averaged away, both state levels at the edge (they move both crossings together), and linear interpolation between samples.
 * Source: first-order propagation; interpolation from the worst case computed for 4 to 22 samples per transition.
 */
export function uInterval(a: Crossing, b: Crossing): number {
  const noise = Math.hypot(
    Math.hypot(a.sigmaV, a.rippleV) / a.slope,
    Math.hypot(b.sigmaV, b.rippleV) / b.slope,
    a.spread / SPREAD,
    b.spread / SPREAD,
    a.shift,
    b.shift,
  )
  const after = b.moves.after / b.slope - a.moves.after / a.slope
  const before = b.moves.before / b.slope - a.moves.before / a.slope
  const samples = Math.abs(b.x - a.x)
  const sampling = Math.min(1, INTERPOLATION / Math.max(samples, INTERPOLATION)) / Math.sqrt(3)
  return Math.hypot(noise, after, before, sampling)
}
