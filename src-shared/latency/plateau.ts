/** Levels of a record, as volts. */
import type { RawTrace } from '#shared/domain/capture.ts'

export const voltsOf = ({ samples, scaleV, offsetV }: RawTrace): Float64Array =>
  Float64Array.from(samples as ArrayLike<number>, (sample) => sample * scaleV + offsetV)

export interface LevelSpread {
  readonly mean: number
  readonly sd: number
  /** Largest minus smallest. */
  readonly range: number
}

/** NaN and infinite for no samples; `sd` 0 for one. */
export function levelSpread(volts: Float64Array): LevelSpread {
  let [sum, low, high] = [0, Infinity, -Infinity]
  for (const v of volts) {
    sum += v
    low = Math.min(low, v)
    high = Math.max(high, v)
  }
  const mean = sum / volts.length
  let squares = 0
  for (const v of volts) squares += (v - mean) ** 2
  return { mean, sd: Math.sqrt(squares / Math.max(1, volts.length - 1)), range: high - low }
}

/** Standard deviation of white noise by the median difference of neighbours, which few edges do not move. */
export function noiseOf(volts: Float64Array): number {
  const steps = volts.subarray(1).map((v, i) => Math.abs(v - (volts[i] as number)))
  steps.sort()
  // Median of |x − y| of two normal values: 0.6745·√2 standard deviations.
  return (steps[steps.length >> 1] ?? 0) / 0.9539
}
