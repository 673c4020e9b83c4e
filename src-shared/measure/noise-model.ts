/** Noise of the samples that are measured: its standard deviation and over how many samples it is correlated. */
export interface NoiseModel {
  readonly sigmaV: number
  readonly correlation: number
}

/** Standard deviation of the mean of m neighbouring samples. */
export function sigmaOfMean(noise: NoiseModel, m: number): number {
  return noise.sigmaV * Math.sqrt(noise.correlation / (m + noise.correlation - 1))
}

/**
 * Multiple of σ that the largest of the noise in `samples` samples, read through a mean of m, exceeds in about one
 * record in twenty. Sliding means overlap, which counts as three values per width.
 */
export function noiseReach(noise: NoiseModel, samples: number, m: number): number {
  const independent = Math.max(2, (3 * samples) / Math.max(m, noise.correlation))
  return Math.sqrt(2 * Math.log(20 * independent))
}

/**
 * Half width of a centred mean that brings `reach` × σ down to `targetV`, but never wider than `capSamples`.
 * 0 (plain samples) without noise.
 */
export function halfWidthFor(noise: NoiseModel, samples: number, targetV: number, capSamples: number): number {
  if (!(noise.sigmaV > 0) || !(targetV > 0)) return 0
  const reach = noiseReach(noise, samples, 1)
  const need = noise.correlation * ((reach * noise.sigmaV) / targetV) ** 2
  const width = Math.min(need, capSamples)
  return Math.max(0, Math.floor((width - 1) / 2))
}
