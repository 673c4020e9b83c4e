import { extremeReach } from '../signal/extremes.ts'

/**
 * Noise of a record: a white part and parts that forget exponentially, each with a time constant of its own (in samples)
 * from the grid TIMES. One pole gives one such part exactly, several poles and 1/f a mixture of them, so that a single
 * function, the variance of a sum of m neighbouring samples, serves every mean, difference, crossing and integral.
 * Read through a filter or a mean, samples are means of `width` raw samples (equal noise bandwidth) times `gain`.
 */
export interface NoiseModel {
  /** Standard deviation of the samples that are measured, V. */
  readonly sigmaV: number
  /** Samples over which a mean's memory reaches: variance of a long mean over σ²/N of the samples measured, at least 1. */
  readonly correlation: number
  /** Correlation of neighbouring samples. */
  readonly rho: number
  /** Degrees of freedom σ is known with. */
  readonly dof: number
  readonly whiteV2: number
  /** Variances of the exponential parts, V²; index into TIMES. */
  readonly partsV2: readonly number[]
  /** Parts from this index on are too slow to be seen in a plateau: they count between far parts of a record, not in σ. */
  readonly local: number
  readonly memory: Memory
  readonly gain: number
  readonly width: number
}

/** Time constants of the exponential parts, samples: each 3 times the one before. */
export const TIMES: readonly number[] = Array.from({ length: 12 }, (_, j) => 0.9 * 3 ** j)

/** Time constants with what their sums need: the slope of a long sum's variance, and what a short one lacks to it. */
export interface Memory {
  readonly times: readonly number[]
  readonly linear: readonly number[]
  readonly curved: readonly number[]
}

export function memoryOf(times: readonly number[]): Memory {
  const rest = times.map((time) => -Math.expm1(-1 / time))
  return { times, linear: rest.map((r) => (2 - r) / r), curved: rest.map((r) => (2 * (1 - r)) / (r * r)) }
}

const GRID = memoryOf(TIMES)

/**
 * Variance of the sum of m neighbouring samples of the exponential part j of unit variance; m ≥ 0, need not be whole.
 * Source: sum of the covariances φ^k, closed form.
 */
export function exponentialSum(j: number, m: number, { times, linear, curved }: Memory = GRID): number {
  return m * linear[j]! + curved[j]! * Math.expm1(-m / times[j]!)
}

/** Variance of the sum of m neighbouring raw samples, V². Symmetric in m. */
function rawSum(
  noise: Pick<NoiseModel, 'whiteV2' | 'partsV2' | 'memory'>,
  m: number,
  parts = noise.partsV2.length,
): number {
  const size = Math.abs(m)
  let sum = noise.whiteV2 * size
  const { partsV2 } = noise
  for (let j = 0; j < parts; j++) {
    const part = partsV2[j]!
    if (part > 0) sum += part * exponentialSum(j, size, noise.memory)
  }
  return sum
}

/**
 * Variance of the sum of m neighbouring raw samples times the gain, V². Linear results are sums of such boxes:
 * Cov of two sums follows from differences of this function (see `linear-result.ts`).
 */
export function sumVariance(noise: NoiseModel, m: number): number {
  return noise.gain * noise.gain * rawSum(noise, m)
}

/** Model of samples that are used as they were recorded. */
export function rawNoise(
  whiteV2: number,
  partsV2: readonly number[],
  dof: number,
  local = partsV2.length,
  memory = GRID,
): NoiseModel {
  return conditionedNoise({ whiteV2, partsV2, local: Math.min(local, partsV2.length), memory, dof }, 1, 1)
}

type Parts = Pick<NoiseModel, 'whiteV2' | 'partsV2' | 'local' | 'memory'>

export const NO_NOISE: NoiseModel = rawNoise(0, [], Infinity)

/** The same noise seen through a filter of the noise bandwidth of a mean over `width` samples, scaled by `gain`. */
export function conditionedNoise(raw: Parts & Pick<NoiseModel, 'dof'>, width: number, gain: number): NoiseModel {
  const { whiteV2, partsV2, local, memory, dof } = raw
  const w = Math.max(1, width)
  const one = rawSum(raw, w, local)
  const sigmaV = (gain * Math.sqrt(Math.max(0, one))) / w
  let long = whiteV2
  for (let j = 0; j < local; j++) {
    long += partsV2[j]! * memory.linear[j]!
  }
  const variance = one / (w * w)
  return {
    sigmaV,
    correlation: variance > 0 ? Math.max(1, long / variance) : 1,
    rho: neighbours(raw, w),
    dof,
    whiteV2,
    partsV2,
    local,
    memory,
    gain,
    width: w,
  }
}

/** Correlation of neighbouring values of a mean over w samples. */
function neighbours(raw: Parts, w: number): number {
  const of = (m: number): number => rawSum(raw, m, raw.local)
  const one = of(w)
  return one > 0 ? Math.max(-1, Math.min(1, (of(w + 1) + of(w - 1) - 2 * of(1)) / (2 * one))) : 0
}

/** Standard deviation of the mean of m neighbouring samples that are measured. */
export function sigmaOfMean(noise: NoiseModel, m: number): number {
  if (!(noise.sigmaV > 0)) return 0
  const w = Math.max(m, noise.width)
  return Math.sqrt(sumVariance(noise, w)) / w
}

/**
 * Multiple of σ that the largest of the noise in `samples` samples, read through a mean of m, stays under in 19 records
 * of 20 (or with probability `p`): by how often such means pass a level, with the allowance of Student's t for a σ that
 * is itself estimated (Cornish–Fisher, Abramowitz & Stegun 26.7.5, first term).
 */
export function noiseReach(noise: NoiseModel, samples: number, m: number, p = 0.95): number {
  const w = Math.max(m, noise.width)
  const rho = w === 1 ? noise.rho : neighbours(noise, w)
  const q = extremeReach(Math.max(2, samples), rho, p)
  return q * (1 + (q * q + 1) / (4 * Math.max(4, noise.dof)))
}

/**
 * Half width of a centred mean that brings `reach` × σ down to `targetV`, but never wider than `capSamples`.
 * 0 (plain samples) without noise.
 */
export function halfWidthFor(noise: NoiseModel, samples: number, targetV: number, capSamples: number): number {
  if (!(noise.sigmaV > 0) || !(targetV > 0)) return 0
  const reach = noiseReach(noise, samples, 1)
  const over = ((reach * noise.sigmaV) / targetV) ** 2
  if (over <= 1) return 0
  // A mean over less than the noise's memory takes none of it away.
  const need = 1 + noise.correlation * (over - 1)
  const width = Math.min(need, capSamples)
  return Math.max(0, Math.floor((width - 1) / 2))
}
