import type { Recipe } from '../domain/recipe.ts'
import { lowPassInPlace, lowPassSections } from '../signal/low-pass.ts'
import { movingAverage } from '../signal/moving-average.ts'
import { savitzkyGolay, savitzkyGolayWeights } from '../signal/savitzky-golay.ts'
import { seriesOf, type Series } from '../signal/series.ts'
import { rippleWaveform, sharpenFrequency, type Plateaus } from './plateaus.ts'
import type { Workspace } from './record.ts'

export type Condition = Recipe['condition']

/** A trace after conditioning, or why it could not be conditioned. */
export interface Conditioned {
  readonly series: Series
  /** What scales the noise, and the width of the mean (samples) that lets as much noise through as the filter does. */
  readonly noiseGain: number
  readonly noiseWidth: number
  /** Width of the mean, samples; 0 for every other kind. */
  readonly meanWidth: number
  /** Frequency used, cycles per sample; null where none is. */
  readonly frequency: number | null
  /** Set when the recipe's conditioning is impossible for this record; the series is then the raw one. */
  readonly problem: string | null
}

/** Smallest share of its mean to which a backlight waveform may fall and still be divided by. */
const DIVIDE_FLOOR = 0.1

/** Conditions a record by a recipe. `none` returns the raw series itself. The result may use the workspace's buffers. */
export function conditionSeries(
  series: Series,
  condition: Condition,
  sampleRateHz: number,
  plateaus: Plateaus,
  darkV: number,
  workspace: Workspace,
): Conditioned {
  const plain = (problem: string | null): Conditioned => ({
    series,
    noiseGain: 1,
    noiseWidth: 1,
    meanWidth: 0,
    frequency: null,
    problem,
  })
  switch (condition.kind) {
    case 'none':
      return plain(null)
    case 'divide':
      return divide(series, condition.frequencyHz, sampleRateHz, plateaus, darkV, workspace, plain)
    case 'one-period-mean': {
      const frequency = rippleFrequency(series, condition.frequencyHz, sampleRateHz, plateaus)
      // Without ripple there is nothing to average away: the trace stays as it was recorded.
      if (frequency === null) return plain(null)
      const width = condition.periods / frequency
      if (width >= series.n / 2) {
        return plain(`The mean over ${condition.periods} ripple period(s) is longer than half the record.`)
      }
      const out = buffer(workspace, series.n)
      movingAverage(series, width, out)
      return {
        series: seriesOf(out, workspace.conditionedPrefix),
        noiseGain: 1,
        noiseWidth: Math.max(1, width),
        meanWidth: width,
        frequency,
        problem: null,
      }
    }
    case 'low-pass': {
      const sections = lowPassSections(condition.shape, condition.cutoffHz, sampleRateHz)
      if (!sections) {
        return plain(`The cut-off of ${condition.cutoffHz} Hz is not below half the sample rate of ${sampleRateHz} Hz.`)
      }
      const out = buffer(workspace, series.n)
      out.set(series.v)
      lowPassInPlace(out, sections, condition.phase)
      return {
        series: seriesOf(out, workspace.conditionedPrefix),
        noiseGain: 1,
        noiseWidth: lowPassNoiseGain(condition.cutoffHz, sampleRateHz, condition.phase, condition.shape) ** -2,
        meanWidth: 0,
        frequency: null,
        problem: null,
      }
    }
    case 'savitzky-golay':
      break
  }
  const out = savitzkyGolay(series.v, condition.points, condition.order)
  const weights = savitzkyGolayWeights(condition.points, condition.order)
  let squares = 0
  for (const w of weights) squares += w * w
  return {
    series: seriesOf(out),
    noiseGain: 1,
    noiseWidth: 1 / squares,
    meanWidth: 0,
    frequency: null,
    problem: null,
  }
}

function buffer(workspace: Workspace, n: number): Float64Array {
  if (workspace.conditioned.length < n + 1) {
    const size = n + 1 + (n >> 3)
    workspace.conditioned = new Float64Array(size)
    workspace.conditionedPrefix = new Float64Array(size)
  }
  return workspace.conditioned.subarray(0, n)
}

/** Declared frequency, or the detected one sharpened over both plateaus; cycles per sample. */
function rippleFrequency(
  series: Series,
  declaredHz: number | null,
  sampleRateHz: number,
  plateaus: Plateaus,
): number | null {
  if (declaredHz !== null) return declaredHz / sampleRateHz
  return plateaus.ripple ? sharpenFrequency(series, plateaus, plateaus.ripple.fundamental) : null
}

function divide(
  series: Series,
  declaredHz: number | null,
  sampleRateHz: number,
  plateaus: Plateaus,
  darkV: number,
  workspace: Workspace,
  plain: (problem: string | null) => Conditioned,
): Conditioned {
  const rough = declaredHz !== null ? declaredHz / sampleRateHz : (plateaus.ripple?.fundamental ?? null)
  // Without ripple there is nothing to divide by: the trace stays as it was recorded.
  if (rough === null) return plain(null)
  const frequency = sharpenFrequency(series, plateaus, rough)
  const waveform = rippleWaveform(series, plateaus, frequency, darkV)
  if (!waveform) return plain('The plateaus are shorter than one ripple period.')
  if (waveform.min < DIVIDE_FLOOR) {
    return plain(
      `The backlight falls to ${(100 * Math.max(0, waveform.min)).toFixed(0)} % of its mean within a period; ` +
        `dividing by it needs at least ${100 * DIVIDE_FLOOR} %.`,
    )
  }
  const steep = steepPhases(waveform.values, frequency)
  if (steep === null) {
    return plain('The backlight changes by more than a fifth of its mean from sample to sample for most of its period.')
  }
  const out = buffer(workspace, series.n)
  const noiseGain = divideBy(series, waveform.values, steep, frequency, darkV, out)
  return {
    series: seriesOf(out, workspace.conditionedPrefix),
    noiseGain,
    noiseWidth: 1,
    meanWidth: 0,
    frequency,
    problem: null,
  }
}

/** Change of the waveform over one sample, as a share of its mean, above which a sample's place on it is too uncertain. */
const STEEP = 0.2

/**
 * Phases at which the waveform is so steep that a sample cannot be divided by it (edges of a pulsed backlight move by
 * a part of a sample from cycle to cycle): 1 where steep. Null when most of the period is.
 */
function steepPhases(values: Float64Array, frequency: number): Uint8Array | null {
  const bins = values.length
  const steep = new Uint8Array(bins)
  const reach = Math.max(1, Math.round(frequency * bins))
  for (let b = 0; b < bins; b++) {
    const change = Math.abs(values[(b + reach) % bins]! - values[(b - reach + bins) % bins]!)
    // With a sample's room on either side.
    if (change > STEEP) for (let i = b - reach; i <= b + reach; i++) steep[(i + bins) % bins] = 1
  }
  let count = 0
  for (const one of steep) count += one
  return count > bins / 2 ? null : steep
}

/** Divides by the waveform; samples on its steep phases are bridged by a line. Returns the gain of white noise. */
function divideBy(
  series: Series,
  values: Float64Array,
  steep: Uint8Array,
  frequency: number,
  darkV: number,
  out: Float64Array,
): number {
  const bins = values.length
  const n = series.n
  let inverse = 0
  let last = -1
  for (let k = 0; k < n; k++) {
    // Position between bin centres; the phase runs from sample 0, as the waveform's does.
    const phase = (k * frequency) % 1
    if (steep[Math.min(bins - 1, (phase * bins) | 0)] === 1) continue
    const x = phase * bins - 0.5 + bins
    const b = Math.floor(x)
    const f = x - b
    const w = values[b % bins]! * (1 - f) + values[(b + 1) % bins]! * f
    const y = (series.v[k]! - darkV) / w + darkV
    out[k] = y
    inverse += (k - last) / (w * w)
    if (last < 0) for (let i = 0; i < k; i++) out[i] = y
    else for (let i = last + 1; i < k; i++) out[i] = out[last]! + ((y - out[last]!) * (i - last)) / (k - last)
    last = k
  }
  if (last >= 0) for (let i = last + 1; i < n; i++) out[i] = out[last]!
  return Math.sqrt(inverse / n)
}

/** Equivalent noise bandwidth over cut-off of each shape (∫|H|² df / f_c; computed from the prototypes). */
const NOISE_BANDWIDTH: Record<Extract<Condition, { kind: 'low-pass' }>['shape'], readonly [number, number]> = {
  'one-pole': [1.5708, 0.7854],
  'bessel-2': [1.1536, 0.7691],
  'bessel-4': [1.0464, 0.7539],
  'butterworth-2': [1.1107, 0.833],
  'butterworth-4': [1.0262, 0.8979],
}

function lowPassNoiseGain(
  cutoffHz: number,
  sampleRateHz: number,
  phase: 'zero' | 'causal',
  shape: keyof typeof NOISE_BANDWIDTH,
): number {
  const [once, twice] = NOISE_BANDWIDTH[shape]
  return Math.min(1, Math.sqrt(((phase === 'zero' ? twice : once) * cutoffHz) / (sampleRateHz / 2)))
}
