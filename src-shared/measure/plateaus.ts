import { strongestLine } from '../signal/lines.ts'
import { amplitudeNear, SPECTRUM_POINTS, windowSpectrum, type Spectrum, type SpectrumPeak } from '../signal/spectrum.ts'
import { demodulate, foldCycle, meanCycle, refineFrequency, type CycleWaveform } from '../signal/periodic-waveform.ts'
import { reachBefore } from '../signal/crossings.ts'
import { windowMean, type Series } from '../signal/series.ts'
import { chanceOf } from './flags/budget.ts'
import type { NoiseModel } from './noise-model.ts'
import { plateauNoise, rippleLag } from './noise.ts'
import type { Workspace } from './record.ts'

/** Ripple smaller than this share of the step (or of the light) is not looked for. */
const FLOOR = 1e-4
/** Three spectra are searched for a line, and two once more for a second. */
const LINE_CHANCE = chanceOf('line', 5)
/** Samples folded for the depth of the ripple. */
const FOLD_SAMPLES = 16_384

export interface Ripple {
  /** Strongest component, cycles per sample. */
  readonly frequency: number
  /** Fundamental of the waveform (the strongest component or a fraction of it), cycles per sample. */
  readonly fundamental: number
  readonly peakToPeakV: number
  /** Peak-to-peak over twice the mean light, %. */
  readonly depthPct: number
  readonly uDepthPct: number
  readonly cycle: CycleWaveform
  /** Plateau with more light, which it was read from. */
  readonly window: readonly [number, number]
}

/** What the two plateaus of a raw record say about ripple and noise. Windows in samples, volts as recorded. */
export interface Plateaus {
  readonly before: readonly [number, number]
  readonly after: readonly [number, number]
  /** Of single samples, ripple removed; null when the plateaus are too short to tell. */
  readonly noise: NoiseModel | null
  readonly ripple: Ripple | null
  /** A second line that is no harmonic of the ripple (hum, say), cycles per sample; 0 without. */
  readonly second: number
  readonly spectra: { readonly before: Spectrum | null; readonly after: Spectrum | null }
}

/**
 * Ripple and noise of the plateaus around a step at sample `split`: nine tenths of the record before it, the last
 * half of the record after it. `stepV` is the rough signed step, `darkV` the voltage of no light,
 * `frame` the refresh period in samples where it is known. The spectra refer to the workspace.
 */
export function studyPlateaus(
  series: Series,
  split: number,
  stepV: number,
  darkV: number,
  lsbV: number,
  frame: number | null,
  { spectra: buffers }: Workspace,
): Plateaus {
  const before: [number, number] = [0, Math.max(1, Math.floor(0.9 * split))]
  const after: [number, number] = [split + Math.floor((series.n - split) / 2), series.n]
  const spectra = {
    before: windowSpectrum(series, before[0], before[1], buffers[0]),
    after: windowSpectrum(series, after[0], after[1], buffers[1]),
  }
  const ripple = findRipple(series, before, after, spectra, stepV, darkV, frame, buffers[2])
  const quiet: [number, number] = [0, Math.max(1, quietEnd(series, split, stepV))]
  const { noise, second } = noiseOf(series, quiet, after, spectra, ripple, lsbV)
  return { before, after, noise, ripple: ripple && withoutNoise(ripple, noise?.sigmaV ?? 0), second, spectra }
}

/** End of what the step has not touched, rather early: as far again before its 5 % as that lies before its middle. */
function quietEnd(series: Series, split: number, stepV: number): number {
  const before = windowMean(series, 0, Math.max(1, Math.floor(0.5 * split)))
  const sign = stepV >= 0 ? 1 : -1
  const low = reachBefore(series, 0, split, before + 0.05 * stepV, sign)
  return Math.floor(low === null ? 0.9 * split : Math.max(0.4 * split, Math.min(0.9 * split, 2 * low - split)))
}

/** Takes the share of noise out of the depth: the range of b bins of n samples each is about √(8 ln b / n) σ by noise. */
function withoutNoise(ripple: Ripple, noiseV: number): Ripple {
  const bins = ripple.cycle.values.length
  const perBin = Math.min(FOLD_SAMPLES, ripple.window[1] - ripple.window[0]) / bins
  const rangeV = noiseV * Math.sqrt((8 * Math.log(bins)) / Math.max(1, perBin))
  const measured = ripple.peakToPeakV
  if (!(measured > 0)) return ripple
  const peakToPeakV = Math.sqrt(Math.max(measured ** 2 - rangeV ** 2, (measured / 4) ** 2))
  const depthPct = (ripple.depthPct * peakToPeakV) / measured
  return { ...ripple, peakToPeakV, depthPct, uDepthPct: (depthPct * rangeV) / measured / 2 }
}

function noiseOf(
  series: Series,
  before: readonly [number, number],
  after: readonly [number, number],
  spectra: Plateaus['spectra'],
  ripple: Ripple | null,
  lsbV: number,
): { readonly noise: NoiseModel | null; readonly second: number } {
  if (ripple === null) return { noise: plateauNoise(series, [before, after], 0, lsbV), second: 0 }
  const shorter = Math.min(before[1] - before[0], after[1] - after[0]) >> 1
  const room = shorter * ripple.fundamental >= 1 ? shorter : Math.max(before[1] - before[0], after[1] - after[0]) >> 1
  // Hum beside the backlight, say: a second line that is no harmonic of the first.
  let second: SpectrumPeak | null = null
  const lagOf = (spectrum: Spectrum | null): number => {
    const line = spectrum
      ? strongestLine(series, spectrum, { alpha: LINE_CHANCE, least: 0, without: ripple.fundamental })
      : null
    if (line === null) return 0
    if (second === null || line.amplitude > second.amplitude) second = line
    return rippleLag(line.frequency, room)
  }
  const lags = [lagOf(spectra.before), lagOf(spectra.after)] as const
  const noise = plateauNoise(series, [before, after], rippleLag(ripple.fundamental, room), lsbV, lags)
  return { noise, second: (second as SpectrumPeak | null)?.frequency ?? 0 }
}

function findRipple(
  series: Series,
  before: readonly [number, number],
  after: readonly [number, number],
  spectra: Plateaus['spectra'],
  stepV: number,
  darkV: number,
  frame: number | null,
  buffer: Float64Array,
): Ripple | null {
  const lightBefore = Math.abs(windowMean(series, ...before) - darkV)
  const lightAfter = Math.abs(windowMean(series, ...after) - darkV)
  const floor = FLOOR * Math.max(Math.abs(stepV), Math.max(lightBefore, lightAfter))
  const candidates: { window: readonly [number, number]; spectrum: Spectrum; peak: SpectrumPeak }[] = []
  const consider = (window: readonly [number, number], spectrum: Spectrum | null): void => {
    const peak = spectrum ? strongestLine(series, spectrum, { alpha: LINE_CHANCE, least: floor, without: null }) : null
    if (spectrum && peak) candidates.push({ window, spectrum, peak })
  }
  consider(before, spectra.before)
  consider(after, spectra.after)
  // Blocks of a long plateau hide (and fold down) fast ripple: its last samples once more, one by one.
  const bright = lightBefore > lightAfter ? before : after
  if (bright[1] - bright[0] > SPECTRUM_POINTS) {
    consider(bright, windowSpectrum(series, bright[1] - SPECTRUM_POINTS, bright[1], buffer))
  }
  if (candidates.length === 0) return null
  // Of equal peaks the one from the longer window is the sharper.
  const best = candidates.reduce((a, b) => (b.peak.amplitude > 1.1 * a.peak.amplitude ? b : a))
  const { window, spectrum, peak } = best
  const fundamental =
    harmonicOfRefresh(spectrum, peak.frequency, peak.amplitude, frame) ??
    fundamentalOf(spectrum, peak.frequency, peak.amplitude)
  const folded: [number, number] = [Math.max(window[0], window[1] - FOLD_SAMPLES), window[1]]
  const bins = Math.max(16, Math.min(64, Math.floor(1 / fundamental)))
  const cycle = foldCycle(series, ...folded, fundamental, bins)
  if (!cycle) return null
  const light = Math.abs(windowMean(series, ...window) - darkV)
  const peakToPeakV = Math.max(cycle.max - cycle.min, 0)
  return {
    frequency: peak.frequency,
    fundamental,
    peakToPeakV,
    depthPct: light > 0 ? (100 * peakToPeakV) / (2 * light) : 0,
    uDepthPct: 0,
    cycle,
    window,
  }
}

/** The strongest component is taken for a harmonic when half or a third of its frequency shows at a tenth of it. */
function fundamentalOf(spectrum: Spectrum, frequency: number, amplitude: number): number {
  for (const divisor of [2, 3]) {
    const lower = frequency / divisor
    if (lower < 3 * spectrum.cell * spectrum.binWidth) continue
    const near = amplitudeNear(spectrum, lower)
    const beside = Math.max(
      amplitudeNear(spectrum, lower - 4 * spectrum.cell * spectrum.binWidth),
      amplitudeNear(spectrum, lower + 4 * spectrum.cell * spectrum.binWidth),
    )
    if (near > 0.1 * amplitude && near > 3 * beside) return lower
  }
  return frequency
}

/** Harmonics of the refresh rate that the strongest component of a strobe may be. */
const REFRESH_HARMONICS = 8

/**
 * Short pulses have harmonics nearly as strong as their fundamental. Where the strongest component is a multiple of the
 * refresh rate and the refresh rate itself shows at a tenth of it, the light repeats with the refresh.
 * @param frame samples per refresh period; null when it is not known
 */
function harmonicOfRefresh(
  spectrum: Spectrum,
  frequency: number,
  amplitude: number,
  frame: number | null,
): number | null {
  if (frame === null) return null
  const order = Math.round(frequency * frame)
  if (order < 2 || order > REFRESH_HARMONICS || Math.abs(frequency * frame - order) > 0.01 * order) return null
  if (1 / frame < 2 * spectrum.cell * spectrum.binWidth) return null
  return amplitudeNear(spectrum, frequency / order) > 0.1 * amplitude ? frequency / order : null
}

/** Frequency of a ripple sharpened over both plateaus, cycles per sample. */
export function sharpenFrequency(series: Series, plateaus: Plateaus, frequency: number): number {
  const a = refineFrequency(series, [plateaus.before, plateaus.after], frequency)
  return bridge(series, plateaus, a)
}

/** Last digit from the phase gained from one plateau to the other, where the first estimate fixes the whole turns. */
function bridge(series: Series, plateaus: Plateaus, frequency: number): number {
  const { before, after } = plateaus
  if ((before[1] - before[0]) * frequency < 4 || (after[1] - after[0]) * frequency < 4) return frequency
  const a = demodulate(series, ...before, frequency)
  const b = demodulate(series, ...after, frequency)
  const weaker = Math.min(a.amplitude, b.amplitude)
  if (!(weaker > 0.02 * Math.max(a.amplitude, b.amplitude))) return frequency
  const turn = Math.atan2(b.im * a.re - b.re * a.im, b.re * a.re + b.im * a.im) / (2 * Math.PI)
  // An eighth of a turn between the plateaus is as much as the estimate may be off before turns are ambiguous.
  return Math.abs(turn) < 0.125 ? frequency + turn / (b.centre - a.centre) : frequency
}

/** Waveform of one ripple period with its mean set to 1, read from the plateau with more light above `darkV`. */
export function rippleWaveform(
  series: Series,
  plateaus: Plateaus,
  frequency: number,
  darkV: number,
): CycleWaveform | null {
  const light = (window: readonly [number, number]): number => Math.abs(windowMean(series, ...window) - darkV)
  const window = light(plateaus.before) > light(plateaus.after) ? plateaus.before : plateaus.after
  const bins = Math.max(16, Math.min(1024, Math.ceil(2 / frequency)))
  const cycle = meanCycle(series, window[0], window[1], frequency, bins)
  if (!cycle) return null
  const mean = cycle.mean - darkV
  if (!(Math.abs(mean) > 0)) return null
  const values = cycle.values.map((y) => (y - darkV) / mean)
  let min = Infinity
  let max = -Infinity
  for (const y of values) {
    if (y < min) min = y
    if (y > max) max = y
  }
  return { values, mean: 1, min, max }
}
