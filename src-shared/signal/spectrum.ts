import { realPlan, realPower, type RealPlan } from './real-power.ts'
import { windowMean, type Series } from './series.ts'
import { windowSlope } from './line-fit.ts'

/** Most points a spectrum is computed from; longer windows are averaged in blocks first. */
export const SPECTRUM_POINTS = 4096

/** Spectrum of a detrended, Hann-weighted window. */
export interface Spectrum {
  /** Squared amplitude of a sine at bin k, k = 0 … size/2, in the unit of the samples squared. */
  readonly power: Float64Array
  /** Frequency of one bin in cycles per sample. */
  readonly binWidth: number
  /** Bins per cycle in the window (≥ 1 when zero-padded): the width of one resolution cell. */
  readonly cell: number
  readonly first: number
  readonly end: number
  /** Samples averaged into one point before. */
  readonly block: number
}

const plans = new Map<number, RealPlan>()
const hanns = new Map<number, Float64Array>()

function planFor(size: number): RealPlan {
  let plan = plans.get(size)
  if (!plan) {
    plan = realPlan(size)
    plans.set(size, plan)
  }
  return plan
}

/** Hann's window of so many points, its largest value 1; kept for later calls. */
export function hannOf(points: number): Float64Array {
  let window = hanns.get(points)
  if (!window) {
    window = new Float64Array(points)
    for (let k = 0; k < points; k++) window[k] = 0.5 - 0.5 * Math.cos((2 * Math.PI * (k + 0.5)) / points)
    if (hanns.size > 32) hanns.clear()
    hanns.set(points, window)
  }
  return window
}

/** Bins of a spectrum's longest transform. */
export const SPECTRUM_BINS = SPECTRUM_POINTS / 2 + 1

/**
 * Spectrum of samples first … end−1 after removing their straight line. Windows longer than SPECTRUM_POINTS are
 * averaged in equal blocks, which hides frequencies above half the block rate.
 * @param buffer SPECTRUM_BINS values for the spectrum to refer to; a fresh array without
 * @returns null for windows under 16 samples.
 */
export function windowSpectrum(
  series: Series,
  first: number,
  end: number,
  buffer: Float64Array | null = null,
): Spectrum | null {
  const n = end - first
  if (n < 16) return null
  const block = Math.max(1, Math.ceil(n / SPECTRUM_POINTS))
  const points = Math.floor(n / block)
  let size = 16
  while (size < points) size *= 2
  const plan = planFor(size)
  const data = plan.values
  const hann = hannOf(points)
  const { v, prefix } = series
  const slope = windowSlope(series, first, first + points * block) * block
  const atStart = windowMean(series, first, first + points * block) - (slope * (points - 1)) / 2
  if (block === 1) for (let k = 0; k < points; k++) data[k] = (v[first + k]! - atStart - slope * k) * hann[k]!
  else {
    const share = 1 / block
    let sum = prefix[first]!
    for (let k = 0, at = first + block; k < points; k++, at += block) {
      const next = prefix[at]!
      data[k] = ((next - sum) * share - atStart - slope * k) * hann[k]!
      sum = next
    }
  }
  data.fill(0, points)
  const bins = size / 2 + 1
  const power = buffer === null ? new Float64Array(bins) : buffer.subarray(0, bins)
  // A Hann window passes half of a sine's amplitude; one-sided spectrum doubles it.
  realPower(plan, (4 / points) ** 2, power)
  return { power, binWidth: 1 / (size * block), cell: size / points, first, end, block }
}

export interface SpectrumPeak {
  /** Cycles per sample. */
  readonly frequency: number
  readonly amplitude: number
}

/** Peak through bin k refined by a parabola through the logarithms of three bins. */
export function peakAt(spectrum: Spectrum, k: number): SpectrumPeak {
  const { power, binWidth } = spectrum
  const a = Math.log(Math.sqrt(power[k - 1]!) + 1e-300)
  const b = Math.log(Math.sqrt(power[k]!) + 1e-300)
  const c = Math.log(Math.sqrt(power[k + 1]!) + 1e-300)
  const curve = a - 2 * b + c
  const shift = curve < 0 ? Math.max(-0.5, Math.min(0.5, (a - c) / (2 * curve))) : 0
  return { frequency: (k + shift) * binWidth, amplitude: Math.exp(b - (shift * (a - c)) / 4) }
}

/** Largest amplitude within one resolution cell of a frequency given in cycles per sample; 0 where it is out of reach. */
export function amplitudeNear(spectrum: Spectrum, frequency: number): number {
  const centre = frequency / spectrum.binWidth
  const from = Math.max(1, Math.floor(centre - spectrum.cell / 2))
  const to = Math.min(spectrum.power.length - 1, Math.ceil(centre + spectrum.cell / 2))
  let best = 0
  for (let k = from; k <= to; k++) if (spectrum.power[k]! > best) best = spectrum.power[k]!
  return Math.sqrt(best)
}
