import { lastPassage } from '../signal/crossings.ts'
import { smoothAt, smoothedRun, strideOf, type Series } from '../signal/series.ts'
import { halfWidthFor, noiseReach, sigmaOfMean, type NoiseModel } from './noise-model.ts'
import { FLAT_SHARE, PASSAGE_REACH, slopeHalf } from './timing.ts'

/** Reason of a signal that was still outside when the record ended; `in_window` is then known to be missed. */
export const UNSETTLED = 'The signal does not stay inside the end band until the end of the record.'

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
 * reaches a quarter of the band (and at most a quarter of the transition's duration wide), and only excursions beyond
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
  const half = halfWidthFor(noise, samples, room / 4, scale / 4)
  const width = 2 * half + 1
  const guardV = noise.sigmaV > 0 ? noiseReach(noise, samples, width) * sigmaOfMean(noise, width) : 0
  if (guardV > room) {
    return {
      problem: `Noise reaches ${(guardV * 1e3).toPrecision(3)} mV, more than the end band’s ${(room * 1e3).toPrecision(3)} mV.`,
    }
  }
  const first = Math.max(0, Math.floor(arrival))
  let last = -1
  const stride = strideOf(half)
  const run = smoothedRun(series, half, first, n, stride)
  const least = low - guardV
  const most = high + guardV
  for (let i = run.length - 1; i >= 0; i--) {
    const y = run[i]!
    if (y < least || y > most) {
      last = first + i * stride
      break
    }
  }
  if (last <= arrival) return { at: arrival, width, guardV }
  const side = smoothAt(series, half, last) > high ? 1 : -1
  const edge = side > 0 ? high : low
  const rough = entryAfter(series, half, last, edge, side)
  if (rough === null) return { problem: UNSETTLED }
  let at = rough
  if (noise.sigmaV > 0) {
    // A tail this flat passes its edge many times; read it as any other crossing: wider, and midway between passages.
    const reach = Math.max(half + 1, Math.ceil(scale / 4))
    const near = smoothAt(series, half, Math.max(first, Math.round(rough) - reach))
    const far = smoothAt(series, half, Math.min(n - 1, Math.round(rough) + reach))
    const slope = Math.max((side * (near - far)) / (2 * reach), (0.01 * room) / scale)
    const wide = Math.max(half, slopeHalf(noise, slope, FLAT_SHARE * scale))
    const entry = entryAfter(series, wide, last, edge, side) ?? rough
    const guard = Math.min(PASSAGE_REACH * sigmaOfMean(noise, 2 * wide + 1), 0.8 * room)
    at = (entry + lastPassage(series, wide, entry, edge, -side, guard, 1)) / 2
  }
  if (n - 1 - at < hold) return { problem: UNSETTLED }
  return { at: Math.max(arrival, at), width, guardV }
}

/** First position after sample `from` at which the series has come back inside `edge`, left on the side `side`. */
function entryAfter(series: Series, half: number, from: number, edge: number, side: number): number | null {
  let previous = smoothAt(series, half, from)
  for (let k = from + 1; k < series.n; k++) {
    const y = smoothAt(series, half, k)
    if (side * (y - edge) <= 0)
      return side * (previous - edge) <= 0 ? k - 1 : k - 1 + (previous - edge) / (previous - y)
    previous = y
  }
  return null
}
