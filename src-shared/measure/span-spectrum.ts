import type { RawTrace } from '../domain/capture.ts'
import type { SpectrumView } from '../domain/desk.ts'
import { seriesOf } from '../signal/series.ts'
import { findLines } from '../signal/lines.ts'
import { windowSpectrum } from '../signal/spectrum.ts'
import { traceVolts } from './analysis.ts'

/** What is known of the capture besides its samples, Hz; null where it is not known. */
export interface KnownRates {
  readonly refreshHz: number | null
  /** Fundamental of the backlight's ripple under the recipe in use. */
  readonly rippleHz: number | null
}

const LINES = 8
/** Chance that noise alone shows a line in a spectrum. */
const CHANCE = 0.01
/** Highest multiple that is named: pulses of a backlight have many, hum and the light of lamps few. */
const MULTIPLES = { pulsed: 8, mains: 3 }

/**
 * Spectrum of the raw samples between two instants (s from the first sample, clipped to the record).
 * @returns null for spans of fewer than 16 samples.
 */
export function spanSpectrum(trace: RawTrace, fromS: number, toS: number, known: KnownRates): SpectrumView | null {
  const { samples, sampleRateHz } = trace
  const first = Math.max(0, Math.ceil(fromS * sampleRateHz - 1e-6))
  const end = Math.min(samples.length, Math.floor(toS * sampleRateHz + 1e-6) + 1)
  if (!(end - first >= 16)) return null
  const volts = traceVolts(trace).subarray(first, end)
  const series = seriesOf(volts)
  const spectrum = windowSpectrum(series, 0, volts.length)
  if (spectrum === null) return null
  const binHz = spectrum.binWidth * sampleRateHz
  const resolutionHz = spectrum.cell * binHz
  const highestHz = (spectrum.power.length - 1) * binHz
  const averaged = highestHz < 0.499 * sampleRateHz
  return {
    fromS: first / sampleRateHz,
    toS: (end - 1) / sampleRateHz,
    binHz,
    resolutionHz,
    amplitudeV: Float32Array.from(spectrum.power, Math.sqrt),
    note: averaged
      ? `Neighbouring samples were averaged first, so it ends at ${highestHz.toPrecision(3)} Hz; choose a shorter span to see above that.`
      : '',
    lines: findLines(series, spectrum, { alpha: CHANCE, least: 0, without: null, count: LINES }).map((line) => {
      const { frequency, amplitude } = line
      const frequencyHz = frequency * sampleRateHz
      return { frequencyHz, amplitudeV: amplitude, name: lineName(frequencyHz, resolutionHz, known) }
    }),
  }
}

/**
 * What a line may be, the likeliest first. A frequency fits within half a resolution cell, or 0.2 % where that is more;
 * nothing is named while a cell is wider than a quarter of the frequency it would be told from.
 */
function lineName(hz: number, resolutionHz: number, { refreshHz, rippleHz }: KnownRates): string {
  const names: string[] = []
  const candidates: readonly (readonly [name: string, baseHz: number | null, multiples: number])[] = [
    ['refresh rate', refreshHz, MULTIPLES.pulsed],
    ['backlight ripple', rippleHz, MULTIPLES.pulsed],
    ['50 Hz mains', 50, MULTIPLES.mains],
    ['60 Hz mains', 60, MULTIPLES.mains],
  ]
  for (const [name, base, multiples] of candidates) {
    if (base === null || !(base > 0) || resolutionHz > base / 4) continue
    const multiple = Math.round(hz / base)
    if (multiple < 1 || multiple > multiples) continue
    if (Math.abs(hz - multiple * base) > Math.max(resolutionHz / 2, 0.002 * hz)) continue
    names.push(multiple === 1 ? name : `${multiple} × ${name}`)
  }
  return names.join(' or ')
}
