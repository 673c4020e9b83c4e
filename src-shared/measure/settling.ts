import { lastPassage } from '../signal/crossings.ts'
import { smoothAt, smoothedRun, strideOf, type Series } from '../signal/series.ts'
import { normalCdf } from '../signal/normal.ts'
import { fitExtreme } from './excursions.ts'
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
  /** Edge of the band it is read at, V. */
  readonly edgeV: number
  /** What an excursion that may or may not leave the band would change, samples (standard uncertainty). */
  readonly doubt: number
}

/** Why a band says nothing: what is left in the trace alone leaves it. */
export function bandTooNarrow(what: string, reachV: number, roomV: number): string {
  return `${what} reaches ${(reachV * 1e3).toPrecision(3)} mV, more than the end band’s ${(roomV * 1e3).toPrecision(3)} mV.`
}

export interface SettlingRequest {
  readonly series: Series
  readonly noise: NoiseModel
  /** First entry, samples. */
  readonly arrival: number
  readonly band: readonly [number, number]
  readonly targetV: number
  readonly scale: number
  /** Samples the signal must stay inside before the record ends. */
  readonly hold: number
  /** How far lines reach that are left in the series, and what the band itself is in doubt by, V. */
  readonly left: { readonly peakV: number; readonly u: number }
}

/**
 * Last entry into the end band, kept to the end of the record.
 * With noise, single samples would leave any band: the trace is read through a centred mean wide enough that noise
 * reaches a quarter of the band (and at most a quarter of the transition's duration wide), and excursions beyond the
 * band plus the noise's reach (`guardV`) count at once. Smaller ones are measured by a local fit, as overshoot is: the
 * signal has left the band where it is likelier than not that the fitted extreme lies outside, and what the other
 * answer would change is part of the uncertainty (`doubt`). The entry itself is read at the band's own edge.
 * Without noise all that is zero and plain samples decide.
 * @returns the entry, or why there is none
 */
export function findSettling(request: SettlingRequest): Settling | { readonly problem: string } {
  const { series, noise, arrival, band, targetV, scale, hold, left } = request
  const [low, high] = band
  const n = series.n
  const room = Math.min(targetV - low, high - targetV)
  const samples = n - arrival
  const half = halfWidthFor(noise, samples, room / 4, scale / 4)
  const width = 2 * half + 1
  const sigma = sigmaOfMean(noise, width)
  const noiseV = noise.sigmaV > 0 ? noiseReach(noise, samples, width) * sigma : 0
  const guardV = noiseV + left.peakV
  if (guardV > room) {
    return { problem: bandTooNarrow(left.peakV > noiseV ? 'Ripple left in the trace' : 'Noise', guardV, room) }
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
  // What stays within the guard afterwards: the furthest on either side, once the signal has been well inside. Read
  // through a wider mean, as overshoot is.
  const fine = Math.max(half, halfWidthFor(noise, samples, room / 12, scale / 4))
  let inside = false
  let peak = 0
  let peakAt = -1
  if (guardV > 0) {
    const deep = Math.max(room - guardV, room / 2)
    const start = last < 0 ? first : last + 1
    const pace = strideOf(fine)
    const smooth = smoothedRun(series, fine, start, n, pace)
    for (let i = 0; i < smooth.length; i++) {
      const e = smooth[i]! - targetV
      const size = e < 0 ? -e : e
      if (!inside) {
        inside = size < deep
        continue
      }
      if (size > peak) {
        peak = size
        peakAt = start + i * pace
      }
    }
  }
  const at = (after: number): { at: number; edgeV: number } | null => {
    const side = smoothAt(series, half, after) > targetV ? 1 : -1
    const edge = side > 0 ? high : low
    const rough = entryAfter(series, half, after, edge, side)
    if (rough === null) return null
    if (!(noise.sigmaV > 0)) return { at: rough, edgeV: edge }
    // A tail this flat passes its edge many times; read it as any other crossing: wider, and midway between passages.
    const reach = Math.max(half + 1, Math.ceil(scale / 4))
    const near = smoothAt(series, half, Math.max(first, Math.round(rough) - reach))
    const far = smoothAt(series, half, Math.min(n - 1, Math.round(rough) + reach))
    const slope = Math.max((side * (near - far)) / (2 * reach), (0.01 * room) / scale)
    const wide = Math.max(half, slopeHalf(noise, slope, FLAT_SHARE * scale))
    const entry = entryAfter(series, wide, after, edge, side) ?? rough
    const guard = Math.min(PASSAGE_REACH * sigmaOfMean(noise, 2 * wide + 1) + left.peakV, 0.8 * room)
    return { at: (entry + lastPassage(series, wide, entry, edge, -side, guard, 1)) / 2, edgeV: edge }
  }
  const settled =
    last <= arrival ? { at: arrival, edgeV: smoothAt(series, half, first) > targetV ? high : low } : at(last)
  if (settled === null) return { problem: UNSETTLED }
  let doubt = 0
  if (peakAt >= 0 && peak > room - guardV) {
    const side = smoothAt(series, half, peakAt) > targetV ? 1 : -1
    const spread = sigmaOfMean(noise, 2 * fine + 1)
    const fit = fitExtreme({ series, noise, half: fine, sigma: spread, first, end: n, targetV, scale }, peakAt, side)
    const edge = side > 0 ? high : low
    const u = Math.hypot(fit.uV, left.u, left.peakV / Math.SQRT2)
    const excess = side * (fit.volts - edge)
    const p = u > 0 ? normalCdf(excess / u) : excess > 0 ? 1 : 0
    if (p > UNLIKELY) {
      // Where the extreme stays inside, it would be at the extreme itself that the signal had settled anew.
      const later = excess > 0 ? (at(peakAt)?.at ?? fit.at) : fit.at
      // Of two instants of which either may be true, twice u must reach from the one to the other.
      const either = Math.min(p, 1 - p) > NOT_BOTH ? 0.5 : Math.sqrt(p * (1 - p))
      doubt = Math.abs(later - settled.at) * either
      if (p >= 0.5 && later > settled.at) {
        settled.at = later
        settled.edgeV = edge
      }
    }
  }
  if (n - 1 - settled.at < hold) return { problem: UNSETTLED }
  return { at: Math.max(arrival, settled.at), edgeV: settled.edgeV, width, guardV, doubt }
}

/** Chance of the other answer up to which an interval of 95 % may leave it out. */
const NOT_BOTH = 0.05

/** Chance below which an excursion is not asked about. */
const UNLIKELY = 0.003

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
