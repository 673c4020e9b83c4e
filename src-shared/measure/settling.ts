import { smoothAt, type Series } from '../signal/series.ts'
import { halfWidthFor, noiseReach, sigmaOfMean, type NoiseModel } from './noise-model.ts'

export interface Settling {
  /** Last entry into the band, samples. */
  readonly at: number
  /** Width of the mean it was read through, samples. */
  readonly width: number
  /** Excursions smaller than this beyond the band cannot be told from noise and do not count, V. */
  readonly guardV: number
}

/**
 * Last entry into the end band, kept to the end of the record.
 * With noise, single samples would leave any band: the trace is read through a centred mean wide enough that noise
 * reaches half the band at most (and at most a quarter of the transition's duration wide), and only excursions beyond
 * the band plus the noise's reach (`guardV`) count. The entry itself is read at the band's own edge. Without noise
 * both are zero and plain samples decide.
 * @param arrival first entry, samples
 * @param hold samples the signal must stay inside before the record ends
 * @returns the entry, or why there is none
 */
export function findSettling(
  series: Series,
  noise: NoiseModel,
  arrival: number,
  band: readonly [number, number],
  targetV: number,
  scale: number,
  hold: number,
): Settling | { readonly problem: string } {
  const [low, high] = band
  const n = series.n
  const room = Math.min(targetV - low, high - targetV)
  const samples = n - arrival
  const half = halfWidthFor(noise, samples, room / 2, scale / 4)
  const width = 2 * half + 1
  const guardV = noise.sigmaV > 0 ? noiseReach(noise, samples, width) * sigmaOfMean(noise, width) : 0
  if (guardV > room) {
    return {
      problem: `Noise reaches ${(guardV * 1e3).toPrecision(2)} mV, more than the end band’s ${(room * 1e3).toPrecision(2)} mV.`,
    }
  }
  const first = Math.max(0, Math.floor(arrival))
  let last = -1
  for (let k = n - 1; k >= first; k--) {
    const y = smoothAt(series, half, k)
    if (y < low - guardV || y > high + guardV) {
      last = k
      break
    }
  }
  if (last <= arrival) return { at: arrival, width, guardV }
  let previous = smoothAt(series, half, last)
  const edge = previous > high ? high : low
  const side = previous > high ? 1 : -1
  for (let k = last + 1; k < n; k++) {
    const y = smoothAt(series, half, k)
    if (side * (y - edge) <= 0) {
      const at = k - 1 + (previous - edge) / (previous - y)
      if (n - 1 - at < hold) break
      return { at: Math.max(arrival, at), width, guardV }
    }
    previous = y
  }
  return { problem: 'The signal does not stay inside the end band until the end of the record.' }
}
