/** Spectrum, fundamental and harmonics of a periodic record. Pure functions over volts or luminance; no units assumed. */
import FFT from 'fft.js'

/** Longest transform; the search for lines looks at no more than this many samples. */
const MAX_FFT = 1 << 20
/** Five-term flat-top window of the usual signal libraries: peaks read true to 0.1 %, side lobes −93 dB, lobe ±5 bins. */
const FLAT_TOP = [0.21557895, -0.41663158, 0.277263158, -0.083578947, 0.006947368] as const
/** Equivalent noise bandwidths of the flat-top and the Hann window, bins (∫w² ÷ (∫w)²; computed). */
export const FLAT_TOP_BANDWIDTH = 3.7702
export const HANN_BANDWIDTH = 1.5
/** Chance that noise alone makes a line of a record. */
const FALSE_ALARM = 0.01
/** Bins of the record (without padding) to either side of a line that tell the noise around it, and their quantile. */
const REACH = 48
const QUANTILE = 0.2
/** Lines weaker than this share of the strongest do not decide what the fundamental is. */
const MINOR_LINE = 0.003
/** Lines without a common fundamental that are worth sharpening one by one. */
const SHARPENED_LINES = 8
/** A line must complete this many cycles in the record, so that its lobe stays clear of zero frequency. */
export const MIN_CYCLES = 8

export interface Line {
  readonly frequencyHz: number
  /** Amplitude of the sine, in the unit of the input. */
  readonly amplitude: number
  /** By how much noise may have moved the frequency, Hz. */
  readonly doubtHz: number
}

export interface Spectrum {
  /** Width of a bin, Hz. Bin k lies at k·binHz. */
  readonly binHz: number
  /** Amplitude per bin of the mean-removed record under the flat-top window, in the unit of the input. */
  readonly amplitude: Float64Array
  /** Rms amplitude of the noise in one bin, from the median over all bins. */
  readonly noise: number
  readonly samples: number
}

/** Flat-top amplitude spectrum of up to 2²⁰ samples, mean removed, zero-padded to a power of two. Null below 64 samples. */
export function flatTopSpectrum(values: ArrayLike<number>, sampleRateHz: number): Spectrum | null {
  const n = Math.min(values.length, MAX_FFT)
  if (n < 64) return null
  let size = 64
  while (size < n) size *= 2
  let sum = 0
  for (let i = 0; i < n; i++) sum += values[i] as number
  const mean = sum / n
  const input = new Float64Array(size)
  let weight = 0
  const [a0, a1, a2, a3, a4] = FLAT_TOP
  for (let i = 0; i < n; i++) {
    const c1 = Math.cos((2 * Math.PI * i) / n)
    const c2 = 2 * c1 * c1 - 1
    const w = a0 + a1 * c1 + a2 * c2 + a3 * (2 * c1 * c2 - c1) + a4 * (2 * c2 * c2 - 1)
    weight += w
    input[i] = w * ((values[i] as number) - mean)
  }
  const fft = new FFT(size)
  const output = new Float64Array(2 * size)
  fft.realTransform(output, input)
  const bins = size / 2
  const amplitude = new Float64Array(bins)
  for (let k = 0; k < bins; k++)
    amplitude[k] = (2 * Math.hypot(output[2 * k] as number, output[2 * k + 1] as number)) / weight
  const sorted = Float64Array.from(amplitude).sort()
  // Power of a noise bin is exponentially distributed: median = mean·ln 2.
  const noise = (sorted[bins >> 1] as number) / Math.sqrt(Math.LN2)
  return { binHz: sampleRateHz / size, amplitude, noise, samples: n }
}

/** Peaks of the spectrum that stand out of its noise, strongest first, at most `count`. Frequencies by parabolic interpolation. */
function strongLines(spectrum: Spectrum, sampleRateHz: number, count: number): Line[] {
  const { amplitude, binHz, noise, samples } = spectrum
  const lobe = Math.ceil((5 * sampleRateHz) / samples / binHz)
  const first = Math.ceil((MIN_CYCLES * sampleRateHz) / samples / binHz)
  let strongest = 0
  for (let k = first; k < amplitude.length; k++) strongest = Math.max(strongest, amplitude[k] as number)
  // The power of a noise bin is exponential; `samples`/2 of them are looked at.
  const factor = Math.sqrt(-Math.log(FALSE_ALARM / (samples / 2)))
  const floor = Math.max(factor * noise, MINOR_LINE * strongest)
  const lines: Line[] = []
  for (let k = first; k < amplitude.length - 1; k++) {
    const here = amplitude[k] as number
    if (!(here > floor)) continue
    let peak = true
    for (let j = Math.max(0, k - lobe); peak && j <= Math.min(amplitude.length - 1, k + lobe); j++)
      if ((amplitude[j] as number) > here) peak = false
    if (!peak || here < factor * noiseAround(spectrum, sampleRateHz, k)) continue
    const left = amplitude[k - 1] as number
    const right = amplitude[k + 1] as number
    const curve = left - 2 * here + right
    const shift = curve < 0 ? Math.max(-0.5, Math.min(0.5, (0.5 * (left - right)) / curve)) : 0
    // Noise moves a weak line's flat top by bins of the record.
    const doubt = (factor * noise) / here
    lines.push({ frequencyHz: (k + shift) * binHz, amplitude: here, doubtHz: (2 * doubt * sampleRateHz) / samples })
  }
  lines.sort((a, b) => b.amplitude - a.amplitude)
  return lines.slice(0, count)
}

/**
 * Rms amplitude of the noise around a bin, from a low quantile of its neighbours, which lines among them hardly move;
 * coloured noise has more of it in some places than its median over all bins says.
 */
function noiseAround({ amplitude, binHz, samples }: Spectrum, sampleRateHz: number, at: number): number {
  const reach = Math.ceil((REACH * sampleRateHz) / samples / binHz)
  const around = amplitude.slice(Math.max(1, at - reach), Math.min(amplitude.length, at + reach + 1)).sort()
  // P(power ≤ q · mean) = 1 − e^−q.
  return (around[Math.floor(QUANTILE * around.length)] ?? 0) / Math.sqrt(-Math.log(1 - QUANTILE))
}

/** Hann-weighted Fourier sum over samples [start, start + length) at one frequency: [real, imaginary, sum of weights]. */
function hannSum(
  values: ArrayLike<number>,
  start: number,
  length: number,
  mean: number,
  cyclesPerSample: number,
): [number, number, number] {
  const step = 2 * Math.PI * cyclesPerSample
  const windowStep = (2 * Math.PI) / length
  let real = 0
  let imaginary = 0
  let weight = 0
  // Both rotations are advanced by recurrence and set anew every 256 samples, so that rounding cannot build up.
  for (let block = 0; block < length; block += 256) {
    let c = Math.cos(step * (start + block))
    let s = Math.sin(step * (start + block))
    let wc = Math.cos(windowStep * (block + 0.5))
    let ws = Math.sin(windowStep * (block + 0.5))
    const dc = Math.cos(step)
    const ds = Math.sin(step)
    const dwc = Math.cos(windowStep)
    const dws = Math.sin(windowStep)
    const end = Math.min(length, block + 256)
    for (let i = block; i < end; i++) {
      const w = 1 - wc
      const value = w * ((values[start + i] as number) - mean)
      weight += w
      real += value * c
      imaginary -= value * s
      const nextC = c * dc - s * ds
      s = s * dc + c * ds
      c = nextC
      const nextW = wc * dwc - ws * dws
      ws = ws * dwc + wc * dws
      wc = nextW
    }
  }
  return [real, imaginary, weight]
}

/**
 * Sharpens a frequency by the phase advance between the two halves of the record (interpolation by phase difference):
 * for a clean line the error falls far below a thousandth of a bin. `guessHz` must be within half a bin.
 */
function refineFrequency(values: ArrayLike<number>, sampleRateHz: number, guessHz: number, meanValue: number): number {
  let frequency = guessHz
  let length = Math.min(values.length, MAX_FFT)
  for (;;) {
    const half = length >> 1
    for (let pass = 0; pass < 3; pass++) {
      const [r1, i1] = hannSum(values, 0, half, meanValue, frequency / sampleRateHz)
      const [r2, i2] = hannSum(values, half, half, meanValue, frequency / sampleRateHz)
      const phase = Math.atan2(i2 * r1 - r2 * i1, r2 * r1 + i2 * i1)
      const correction = (phase * sampleRateHz) / (2 * Math.PI * half)
      frequency += correction
      if (Math.abs(correction) < 1e-13 * frequency) break
    }
    if (length >= values.length) return frequency
    length = Math.min(values.length, 2 * length)
  }
}

export interface Fundamental {
  readonly frequencyHz: number
  /** All strong lines are multiples of the fundamental. */
  readonly harmonic: boolean
  readonly lines: readonly Line[]
  readonly spectrum: Spectrum
  /** Set where the lines are harmonics of light that repeats fewer than 8 times in the record: about so often. */
  readonly fewCycles: number | null
}

/**
 * The repetition frequency of a record: the largest frequency of which every strong line is a multiple (a strong 240 Hz
 * line with a weak one at 60 Hz repeats at 60 Hz). When no such frequency exists within 1/12 of the strongest line,
 * the strongest line stands and `harmonic` is false. Null when nothing periodic stands out from the noise.
 */
export function findFundamental(
  values: ArrayLike<number>,
  sampleRateHz: number,
  spectrum: Spectrum,
): Fundamental | null {
  const lines = strongLines(spectrum, sampleRateHz, 40)
  const [strongest] = lines
  if (strongest === undefined) return null
  let sum = 0
  for (let i = 0; i < values.length; i++) sum += values[i] as number
  const meanValue = sum / values.length
  const peak = refineFrequency(values, sampleRateHz, strongest.frequencyHz, meanValue)
  const tolerance = (0.75 * sampleRateHz) / spectrum.samples
  // Harmonics of steep edges beyond half the sample rate fold back; falling as 1/order they are weaker than this.
  const aliasBound = (6 * strongest.amplitude * peak) / sampleRateHz
  for (let divisor = 1; divisor <= 12; divisor++) {
    const base = peak / divisor
    if (base < (MIN_CYCLES * sampleRateHz) / values.length) break
    const explained = lines.every((line) =>
      isMultiple(line.frequencyHz, base, tolerance + line.doubtHz, line.amplitude < aliasBound ? sampleRateHz : null),
    )
    if (explained) return { frequencyHz: base, harmonic: true, lines, spectrum, fewCycles: null }
  }
  const sharpened = lines.map((line, i) =>
    i < SHARPENED_LINES
      ? { ...line, frequencyHz: refineFrequency(values, sampleRateHz, line.frequencyHz, meanValue) }
      : line,
  )
  const fewCycles = fewCyclesOf(lines, peak, tolerance, values.length / sampleRateHz)
  return { frequencyHz: peak, harmonic: false, lines: sharpened, spectrum, fewCycles }
}

/** Lines from which an even spacing is believed. */
const EVENLY = 4

/** Cycles of a base that is too slow for the record, told by the even spacing of its harmonics; null without one. */
function fewCyclesOf(lines: readonly Line[], peak: number, tolerance: number, seconds: number): number | null {
  if (lines.length < EVENLY) return null
  const sorted = lines.map(({ frequencyHz }) => frequencyHz).sort((a, b) => a - b)
  let spacing = Infinity
  for (let i = 1; i < sorted.length; i++) spacing = Math.min(spacing, (sorted[i] as number) - (sorted[i - 1] as number))
  const order = Math.round(peak / spacing)
  const base = peak / order
  const cycles = base * seconds
  if (cycles >= MIN_CYCLES || cycles < 2) return null
  return lines.every((line) => isMultiple(line.frequencyHz, base, tolerance + line.doubtHz, null)) ? cycles : null
}

/** Whether a frequency, or one of its first images about `foldHz`, is a multiple of `base`. */
function isMultiple(frequency: number, base: number, tolerance: number, foldHz: number | null): boolean {
  const images = [frequency]
  if (foldHz !== null)
    images.push(foldHz - frequency, foldHz + frequency, 2 * foldHz - frequency, 2 * foldHz + frequency)
  return images.some((image) => {
    const order = Math.round(image / base)
    return order >= 1 && Math.abs(image - order * base) <= tolerance
  })
}

/**
 * Amplitudes of the harmonics 1…count of `fundamentalHz` over whole cycles under a Hann window, whose zeros then fall
 * on all other harmonics. At least two whole cycles are needed; RangeError otherwise.
 */
export function harmonicAmplitudes(
  values: ArrayLike<number>,
  sampleRateHz: number,
  fundamentalHz: number,
  count: number,
): Float64Array {
  const cycles = Math.floor((values.length * fundamentalHz) / sampleRateHz)
  if (cycles < 2) throw new RangeError('harmonicAmplitudes needs at least two whole cycles')
  const length = Math.min(values.length, Math.round((cycles * sampleRateHz) / fundamentalHz))
  let sum = 0
  for (let i = 0; i < length; i++) sum += values[i] as number
  const amplitudes = new Float64Array(count)
  for (let m = 1; m <= count; m++) {
    const [real, imaginary, weight] = hannSum(values, 0, length, sum / length, (m * fundamentalHz) / sampleRateHz)
    amplitudes[m - 1] = (2 * Math.hypot(real, imaginary)) / weight
  }
  return amplitudes
}
