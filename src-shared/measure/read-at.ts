import { valueAt, windowMean, type Series } from '../signal/series.ts'
import { windowSlope } from '../signal/line-fit.ts'
import { sigmaOfMean, type NoiseModel } from './noise-model.ts'

/** The signal at one instant: volts, V per sample, the mean it is worth, and what a corner near it leaves open, V. */
export interface InstantReading {
  readonly volts: number
  readonly slope: number
  readonly width: number
  readonly kinkV: number
}

/**
 * Value at position x where the signal may have a corner (a frame's end): the lines through the `reach` samples on
 * either side, both continued to x, and their mean; a corner beside x keeps them apart. Plain samples without noise.
 */
export function readAt(series: Series, noise: NoiseModel, x: number, reach: number): InstantReading {
  const k = Math.floor(x)
  const n = Math.floor(reach)
  const slope = (valueAt(series, 0, x + 1) - valueAt(series, 0, x - 1)) / 2
  if (!(noise.sigmaV > 0) || n < 4 || k - n < 0 || k + 1 + n > series.n) {
    return { volts: valueAt(series, 0, x), slope, width: 1, kinkV: 0 }
  }
  const left = windowSlope(series, k - n + 1, k + 1)
  const right = windowSlope(series, k + 1, k + 1 + n)
  const a = windowMean(series, k - n + 1, k + 1) + left * (x - (k - (n - 1) / 2))
  const b = windowMean(series, k + 1, k + 1 + n) + right * (x - (k + 1 + (n - 1) / 2))
  // A line's end has four times the variance of a mean of as many samples; the two ends' mean half of that.
  const width = n / 2
  const apart = Math.max(0, Math.abs(a - b) - 4 * sigmaOfMean(noise, width))
  return { volts: (a + b) / 2, slope: (left + right) / 2, width, kinkV: apart / Math.sqrt(12) }
}
