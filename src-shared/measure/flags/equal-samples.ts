import { LIMITS } from './budget.ts'

/**
 * Noise under this many digitizer steps says nothing: with less, a level on the border of two codes looks as noisy as
 * this and then stands on one code for as long as it lies a little off.
 */
const LEAST_NOISE = LIMITS.leastDither
/** Either estimate of the noise may be this much too large: it is in one of a hundred with 500 degrees of freedom. */
const SAFE = 0.93

/**
 * Longest run of equal samples that Gaussian noise of `sigma` digitizer steps leaves somewhere among `tries` places
 * with the given chance. The most likely code is the one the level lies in the middle of; a sample is
 * rounded to it with erf(1 ÷ (2√2 σ)).
 * @returns null where the noise is under 0.7 digitizer steps: equal samples are then nothing strange
 */
export function longestChance(sigma: number, tries: number, chance: number): number | null {
  if (!(sigma >= LEAST_NOISE)) return null
  return Math.ceil(Math.log(chance / tries) / Math.log(shareInMiddle(1 / (2 * Math.SQRT2 * sigma))))
}

/** erf(x) for 0 ≤ x ≤ 0.6 by its series (error under 10⁻⁷ there). */
function shareInMiddle(x: number): number {
  let term = x
  let sum = x
  for (let k = 1; k < 12; k++) {
    term *= (-x * x) / k
    sum += term / (2 * k + 1)
  }
  return (2 / Math.sqrt(Math.PI)) * sum
}

/**
 * Noise in digitizer steps before rounding, from the noise measured (which rounding adds 1/12 to) and from the share
 * of neighbouring samples that are equal, about 1 ÷ (2σ√π): whichever is less, taken 7 % smaller. A signal that moves makes either too
 * large.
 */
export function noiseInSteps(measured: number, equalShare: number): number {
  const before = Math.sqrt(Math.max(0, measured ** 2 - 1 / 12))
  return SAFE * (equalShare > 0 ? Math.min(before, 1 / (2 * equalShare * Math.sqrt(Math.PI))) : before)
}
