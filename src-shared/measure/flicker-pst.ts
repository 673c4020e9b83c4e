/**
 * Short-term flicker indicator of light, PstLM: the analogue chain of IEC TR 61547-1 annex A with the constants of a
 * published reference implementation (read), built from second-order sections by the bilinear transform.
 */
import { meanSd, quantileSorted } from '../signal/statistics.ts'
import { blockMeans } from './periodic-cycle.ts'

/** Least sample rate, Hz, and least length of the record, s. */
const PST_MIN_RATE_HZ = 2000
const PST_MIN_LENGTH_S = 60
/** Length from which the record matches the practice of the standard, s. */
const PST_FULL_LENGTH_S = 180
/** The filters' settling at the start that is thrown away, s. */
const SETTLE_S = 20
const SCALE = 1.101603155420234e6

/** Digital section (b0 + b1 z⁻¹ + b2 z⁻²)/(1 + a1 z⁻¹ + a2 z⁻²). */
type Section = readonly [b0: number, b1: number, b2: number, a1: number, a2: number]
/** Polynomial c2·s² + c1·s + c0. */
type Quadratic = readonly [c2: number, c1: number, c0: number]

function bilinear(top: Quadratic, bottom: Quadratic, sampleRateHz: number): Section {
  const k = 2 * sampleRateHz
  const expand = ([c2, c1, c0]: Quadratic) => [
    c2 * k * k + c1 * k + c0,
    2 * c0 - 2 * c2 * k * k,
    c2 * k * k - c1 * k + c0,
  ]
  const [b0 = 0, b1 = 0, b2 = 0] = expand(top)
  const [a0 = 1, a1 = 0, a2 = 0] = expand(bottom)
  return [b0 / a0, b1 / a0, b2 / a0, a1 / a0, a2 / a0]
}

/**
 * Weighting (0.041661 s⁴ + 44.758 s³ + 2715.6 s² + 29839 s)/(s⁴ + 196.32 s³ + 11781 s² + 534820 s + 3505380),
 * factored so that the digital filter keeps its precision at high sample rates.
 */
export const WEIGHTING = {
  gain: 0.041661,
  zeros: [0, 14.325108239834963, 49.47718123779619, 1010.5358205053265],
  realPoles: [7.699095029783818, 137.60484602173824],
  pair: { real: 25.50802947423895, imaginary: 51.55650515823028 },
} as const

function sections(sampleRateHz: number): Section[] {
  const filters: Section[] = []
  // First-order high-pass at 0.05 Hz.
  filters.push(bilinear([0, 1, 0], [0, 1, 2 * Math.PI * 0.05], sampleRateHz))
  // Butterworth low-pass of sixth order at 35 Hz, frequency prewarped.
  const omega = 2 * sampleRateHz * Math.tan((Math.PI * 35) / sampleRateHz)
  for (const angle of [Math.PI / 12, (3 * Math.PI) / 12, (5 * Math.PI) / 12])
    filters.push(bilinear([0, 0, omega * omega], [1, 2 * omega * Math.cos(angle), omega * omega], sampleRateHz))
  const { gain, zeros, realPoles, pair } = WEIGHTING
  const modulus = pair.real * pair.real + pair.imaginary * pair.imaginary
  filters.push(
    bilinear([gain, gain * (zeros[0] + zeros[1]), 0], [1, 2 * pair.real, modulus], sampleRateHz),
    bilinear(
      [1, zeros[2] + zeros[3], zeros[2] * zeros[3]],
      [1, realPoles[0] + realPoles[1], realPoles[0] * realPoles[1]],
      sampleRateHz,
    ),
  )
  return filters
}

function run([b0, b1, b2, a1, a2]: Section, data: Float64Array): void {
  let s1 = 0
  let s2 = 0
  for (let i = 0; i < data.length; i++) {
    const x = data[i] as number
    const y = b0 * x + s1
    s1 = b1 * x - a1 * y + s2
    s2 = b2 * x - a2 * y
    data[i] = y
  }
}

export interface Pst {
  /** With white noise of the record's floor taken off; null where undefined. */
  readonly value: number | null
  /** Standard uncertainty; null with the value. */
  readonly u: number | null
  readonly reason: string | null
  /** What limits an otherwise valid value; null when nothing does. */
  readonly note: string | null
}

const undefinedWith = (reason: string): Pst => ({ value: null, u: null, reason, note: null })

/** PstLM of white noise of one-sided density S of light ÷ mean, over √S (Hz^½); from the same chain in scipy, ±1 %. */
const WHITE_NOISE = 1452
/** Blocks of the settled record whose scatter tells how well it is known, and their least length, s. */
const BLOCKS = 8
const BLOCK_S = 5

/** The weighted sum of exceeded levels of a stretch of instantaneous flicker; sorts its argument. */
function severity(instantaneous: Float64Array): number {
  instantaneous.sort()
  const exceeded = (...percents: number[]) =>
    percents.reduce((total, percent) => total + (quantileSorted(instantaneous, 1 - percent / 100) ?? 0), 0) /
    percents.length
  return Math.sqrt(
    0.0314 * exceeded(0.1) +
      0.0525 * exceeded(0.7, 1, 1.5) +
      0.0657 * exceeded(2.2, 3, 4) +
      0.28 * exceeded(6, 8, 10, 13, 17) +
      0.08 * exceeded(30, 50, 80),
  )
}

/**
 * PstLM of a record of light (dark offset taken off; any positive unit). Undefined below 2 kS/s, below 60 s, or when the
 * mean is not positive. Proportional to the modulation depth. `noiseDensity` is the one-sided density of white noise in
 * the record, squared unit per Hz: its PstLM is taken off in squares, and how much that was enters u whole, because
 * noise and light do not quite add so.
 */
export function pstLm(values: ArrayLike<number>, sampleRateHz: number, noiseDensity: number): Pst {
  const lengthS = values.length / sampleRateHz
  if (sampleRateHz < PST_MIN_RATE_HZ) return undefinedWith(`Needs ${PST_MIN_RATE_HZ} S/s; it has ${sampleRateHz} S/s.`)
  if (lengthS < PST_MIN_LENGTH_S)
    return undefinedWith(`Needs ${PST_MIN_LENGTH_S} s; it lasts ${lengthS.toPrecision(2)} s.`)
  let sum = 0
  for (let i = 0; i < values.length; i++) sum += values[i] as number
  const mean = sum / values.length
  if (!(mean > 0)) return undefinedWith('Needs light above the dark level on average.')
  // Means of whole blocks down to about 4 kS/s: 1e-5 of droop at 8.8 Hz, and filters that stay well conditioned.
  const factor = Math.max(1, Math.floor(sampleRateHz / 4000))
  const rate = sampleRateHz / factor
  // Minus 1: the high-pass starts settled on the mean instead of on darkness.
  const data = blockMeans(values, factor).map((block) => block / mean - 1)
  for (const section of sections(rate)) run(section, data)
  for (let i = 0; i < data.length; i++) data[i] = (data[i] as number) ** 2
  run(bilinear([0, 0, 1], [0, 0.3, 1], rate), data)
  const settled = data.subarray(Math.ceil(SETTLE_S * rate)).map((value) => Math.max(0, value) * SCALE)
  const blocks = Math.min(BLOCKS, Math.floor(settled.length / (BLOCK_S * rate)))
  const length = Math.floor(settled.length / blocks)
  const parts = Array.from({ length: blocks }, (_, i) => severity(settled.slice(i * length, (i + 1) * length)))
  const { s } = meanSd(parts)
  const seen = severity(settled)
  const value = Math.sqrt(Math.max(0, seen ** 2 - WHITE_NOISE ** 2 * (noiseDensity / mean ** 2)))
  const u = Math.hypot((s ?? seen) / Math.sqrt(blocks), (seen - value) / Math.sqrt(3))
  const note =
    lengthS < PST_FULL_LENGTH_S
      ? `The record lasts ${lengthS.toPrecision(3)} s; the standard works with 3 to 10 minutes.`
      : null
  return { value, u, reason: null, note }
}
