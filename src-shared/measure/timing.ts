import { reachAfter, reachBefore, reachNearest } from '../signal/crossings.ts'
import { valueAt, type Series } from '../signal/series.ts'
import type { Levels } from './levels.ts'
import { sigmaOfMean, type NoiseModel } from './noise-model.ts'

/** Widest mean through which a crossing is read, as a share of the 10–90 % duration: broadens it by under 0.1 %. */
const CROSSING_SHARE = 0.05

/**
 * Reads crossings of one step. Where noise exceeds what the signal gains from sample to sample, the first sample
 * beyond a level comes too early; crossings are then read through a centred mean just wide enough, at most a
 * twentieth of the 10–90 % duration (over which a pure exponential's duration does not change). Without noise, or
 * with few samples in the transition, plain samples are read.
 */
export interface Clock {
  readonly series: Series
  readonly levels: Levels
  readonly noise: NoiseModel
  /** 10–90 % duration of the luminance step, samples: the transition's own time scale, at least 1. */
  readonly scale: number
  /** 50 % crossing of the luminance step, samples. */
  readonly mid: number
}

function crossingHalf(noise: NoiseModel, levels: Levels, scale: number, share: number): number {
  if (!(noise.sigmaV > 0)) return 0
  const p = Math.max(0.005, Math.min(share, 1 - share))
  // Slope of a first-order response where p of the step is left.
  const slope = (2.197 * p * Math.abs(levels.stepV)) / scale
  const need = 4 * Math.cbrt((noise.sigmaV / slope) ** 2) * noise.correlation
  const width = Math.min(need, scale * Math.min(CROSSING_SHARE, p))
  return Math.max(0, Math.floor((width - 1) / 2))
}

const shareOf = (levels: Levels, volts: number): number => (volts - levels.beforeV) / levels.stepV

/** Finds the step's own 50 % crossing and time scale near a rough position; null when it never crosses its middle. */
export function startClock(series: Series, levels: Levels, noise: NoiseModel, near: number): Clock | null {
  const { sign, beforeV, stepV } = levels
  const midV = beforeV + 0.5 * stepV
  let scale = 1
  let mid: number | null = null
  for (let round = 0; round < 5; round++) {
    const half = round === 0 ? 0 : crossingHalf(noise, levels, scale, 0.1)
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
  return mid === null ? null : { series, levels, noise, scale, mid }
}

/** A crossing: its position in samples, the slope there in V per sample, the noise it is read with, its level. */
export interface Crossing {
  readonly x: number
  readonly slope: number
  readonly sigmaV: number
  readonly volts: number
}

/** Crossing of `volts` outward from the 50 % crossing; null when the record never gets there. */
export function crossingOf(clock: Clock, volts: number): Crossing | null {
  const { series, levels, noise, scale } = clock
  const share = shareOf(levels, volts)
  const half = crossingHalf(noise, levels, scale, share)
  const x =
    share <= 0.5
      ? reachBefore(series, half, clock.mid, volts, levels.sign)
      : reachAfter(series, half, clock.mid, volts, levels.sign)
  return x === null ? null : crossingAt(clock, x, volts, half)
}

/** Slope and noise of a crossing at a known position. */
export function crossingAt(clock: Clock, x: number, volts: number, half = 0): Crossing {
  const { series, levels, noise, scale } = clock
  const reach = Math.max(1, half, scale / 40)
  const measured = (levels.sign * (valueAt(series, half, x + reach) - valueAt(series, half, x - reach))) / (2 * reach)
  const share = shareOf(levels, volts)
  // Noise can flatten the measured slope; a quarter of a first-order response's is the least that is believed.
  const least = (0.25 * 2.197 * Math.max(0.01, Math.min(share, 1 - share)) * Math.abs(levels.stepV)) / scale
  // A position between two plain samples averages them: (1−f)² + f² is 2/3 on average.
  const sigmaV = half === 0 ? noise.sigmaV * Math.sqrt(2 / 3) : sigmaOfMean(noise, 2 * half + 1)
  return { x, slope: Math.max(measured, least), sigmaV, volts }
}

/** Interpolation error of a first-order response at its worst phase: 0.85/n of a sample for n samples per duration. */
const INTERPOLATION = 0.85

/**
 * Standard uncertainty, samples, of the time from crossing a to crossing b: noise over slope at both, both state
 * levels (they move both crossings together), and linear interpolation between samples.
 * Source: first-order propagation; interpolation from the worst case computed for 4 to 22 samples per transition.
 */
export function uInterval(levels: Levels, a: Crossing, b: Crossing): number {
  const pa = shareOf(levels, a.volts)
  const pb = shareOf(levels, b.volts)
  const noise = Math.hypot(a.sigmaV / a.slope, b.sigmaV / b.slope)
  const after = levels.uAfterV * (pb / b.slope - pa / a.slope)
  const before = levels.uBeforeV * ((1 - pb) / b.slope - (1 - pa) / a.slope)
  const samples = Math.abs(b.x - a.x)
  const sampling = Math.min(1, INTERPOLATION / Math.max(samples, INTERPOLATION)) / Math.sqrt(3)
  return Math.hypot(noise, after, before, sampling)
}
