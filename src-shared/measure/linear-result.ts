import { sumVariance, type NoiseModel } from './noise-model.ts'

const MOST = 96
const places = new Float64Array(MOST)
const jumps = new Float64Array(MOST)
const shares = new Float64Array(MOST)
let count = 0

/**
 * A result that is linear in the samples, as weights that are constant over stretches: every level, crossing, integral
 * and mean is one. Sample k covers k … k + 1. One set of weights gives the variance by noise, what a sine, a slope and
 * the levels' own doubts do to it, with everything that several parts share. One is built at a time (buffers are reused).
 * Source: Var = Σ c_k·W(k), W the autocorrelation of the weights, summed by parts.
 */
export function beginWeights(): void {
  count = 0
}

/** Adds the mean over first … end (not whole, first < end) times `weight`, at `share` of the step. */
export function addMean(first: number, end: number, weight: number, share: number): void {
  if (weight === 0 || count + 2 > MOST) return
  const each = weight / (end - first)
  places[count] = first
  jumps[count] = each
  shares[count++] = share
  places[count] = end
  jumps[count] = -each
  shares[count++] = share
}

/** Adds a reading at position x (between samples) through a mean of `width` samples, times `weight`. */
export function addReading(x: number, width: number, weight: number, share: number): void {
  const k = Math.floor(x)
  const f = x - k
  if (width >= 2) {
    addMean(x + 0.5 - width / 2, x + 0.5 + width / 2, weight, share)
    return
  }
  addMean(k, k + 1, weight * (1 - f), share)
  addMean(k + 1, k + 2, weight * f, share)
}

/** Variance by noise. */
export function weightsVariance(noise: NoiseModel): number {
  if (!(noise.sigmaV > 0)) return 0
  let sum = 0
  for (let i = 1; i < count; i++) {
    const x = places[i]!
    const jump = jumps[i]!
    for (let k = 0; k < i; k++) {
      const distance = x - places[k]!
      if (distance !== 0) sum -= jump * jumps[k]! * sumVariance(noise, distance)
    }
  }
  return Math.max(0, sum)
}

/**
 * Mean square of what a sine of unknown phase does to the result, for an amplitude of `before` at the level before the
 * step and `after` at the one after it (between them by the share of the step). `frequency` in cycles per sample.
 */
export function sineSquare(frequency: number, before: number, after: number): number {
  const turn = 2 * Math.PI * frequency
  let re = 0
  let im = 0
  for (let i = 0; i < count; i++) {
    const jump = jumps[i]! * (before + shares[i]! * (after - before))
    re += jump * Math.cos(turn * places[i]!)
    im += jump * Math.sin(turn * places[i]!)
  }
  const chord = 2 * Math.sin(turn / 2)
  return (re * re + im * im) / (2 * chord * chord)
}
