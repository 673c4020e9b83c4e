/** Noise under this many digitizer steps leaves neighbouring samples equal too often to say anything. */
const LEAST_NOISE = 0.5
/** Chance that a sound record is doubted. */
const CHANCE = 1e-9

/**
 * Longest run of equal pairs that noise leaves in one of `tries` places with a chance of 10⁻⁹. Two samples of a
 * Gaussian of σ digitizer steps round to the same code with about 1 ÷ (2σ√π).
 * @param sigma standard deviation of the noise in digitizer steps
 * @returns null where the noise is under half a digitizer step: equal samples are then nothing strange
 */
export function longestChance(sigma: number, tries: number): number | null {
  if (!(sigma >= LEAST_NOISE)) return null
  const equal = Math.min(0.6, 1 / (2 * sigma * Math.sqrt(Math.PI)))
  return Math.ceil(1 + Math.log(CHANCE / tries) / Math.log(equal))
}
