/** Lines of periodic light up to the limit of the published weightings, with the noise taken off. */
import { fUpper } from '../signal/f-distribution.ts'
import { type Component, SVM_LIMIT_HZ } from './flicker-weights.ts'
import { FLAT_TOP_BANDWIDTH, type Fundamental, harmonicAmplitudes, HANN_BANDWIDTH } from './periodic-spectrum.ts'

/** Most harmonics computed one by one; further ones come from the flat-top spectrum. */
const DIRECT_HARMONICS = 60
/** Chance that noise alone makes one of a record's harmonics count. */
const FALSE_ALARM = 0.01
/** Half width of the flat-top window's lobe and its foot, in bins of the record without padding. */
const LOBE = 6
/** Bins to either side of a harmonic from which its noise is read. */
const REACH = 40

/**
 * Mean power |amplitude|² of the noise around a frequency, per bin of the flat-top spectrum, from bins that no multiple
 * of the fundamental reaches, with its degrees of freedom; that of the whole record where harmonics stand so close that
 * there are none.
 */
function noiseAround(found: Fundamental, rate: number, frequencyHz: number): { power: number; dof: number } {
  const { amplitude, binHz, noise, samples } = found.spectrum
  const bin = rate / samples
  const first = Math.max(1, Math.ceil((frequencyHz - REACH * bin) / binHz))
  const last = Math.min(amplitude.length - 1, Math.floor((frequencyHz + REACH * bin) / binHz))
  let sum = 0
  let count = 0
  for (let k = first; k <= last; k++) {
    const at = k * binHz
    const order = Math.round(at / found.frequencyHz)
    if (at < LOBE * bin || (order >= 1 && Math.abs(at - order * found.frequencyHz) < LOBE * bin)) continue
    sum += (amplitude[k] as number) ** 2
    count++
  }
  // Neighbouring bins tell the same within the window's bandwidth.
  const dof = Math.floor((2 * count * binHz) / (bin * FLAT_TOP_BANDWIDTH))
  return dof >= 2 ? { power: sum / count, dof } : { power: noise ** 2, dof: 1000 }
}

/**
 * Components relative to the mean, ascending. Of harmonics the noise's share is taken off (E|Â|² = A² + noise) and those
 * that do not stand out of it are given as 0 with the limit they stay under; `u` is standard. Lines without a common
 * fundamental stand as they are found.
 */
export function componentsOf(light: Float64Array, rate: number, found: Fundamental, meanLight: number): Component[] {
  const top = Math.min(SVM_LIMIT_HZ, 0.45 * rate)
  const { samples, binHz, amplitude, noise } = found.spectrum
  if (!found.harmonic)
    return found.lines
      .filter((line) => line.frequencyHz <= top)
      .map((line) => ({
        frequencyHz: line.frequencyHz,
        relative: line.amplitude / meanLight,
        u: noise / Math.SQRT2 / meanLight,
      }))
      .sort((a, b) => a.frequencyHz - b.frequencyHz)
  // Rounding of the fundamental must not lose the harmonic that lies at the limit itself.
  const count = Math.floor((top / found.frequencyHz) * (1 + ROUNDING))
  const direct = Math.min(count, DIRECT_HARMONICS)
  const amplitudes = harmonicAmplitudes(light, rate, found.frequencyHz, direct)
  const components: Component[] = []
  for (let m = 1; m <= count; m++) {
    const frequencyHz = Math.min(top, m * found.frequencyHz)
    const isDirect = m <= direct
    const raw = isDirect ? (amplitudes[m - 1] as number) : (amplitude[Math.round(frequencyHz / binHz)] ?? 0)
    const around = noiseAround(found, rate, frequencyHz)
    const power = isDirect
      ? (around.power * HANN_BANDWIDTH * samples) / (FLAT_TOP_BANDWIDTH * light.length)
      : around.power
    const limit = power * fUpper(FALSE_ALARM / count, 2, around.dof)
    const u = Math.sqrt(power / 2) / meanLight
    components.push(
      raw * raw > limit
        ? { frequencyHz, relative: Math.sqrt(raw * raw - power) / meanLight, u }
        : { frequencyHz, relative: 0, u: Math.sqrt(limit) / meanLight },
    )
  }
  return components
}

/** Share by which a fundamental may be off from rounding and noise. */
const ROUNDING = 1e-5
