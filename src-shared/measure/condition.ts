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
  /** Noise of conditioned samples over noise of raw ones (white noise). */
  readonly noiseGain: number
  /** Width of the mean, samples; 0 for every other kind. */
  readonly meanWidth: number
  /** Frequency used, cycles per sample; null where none is. */
  readonly frequency: number | null
  /** Set when the recipe's conditioning is impossible for this record; the series is then the raw one. */
  readonly problem: string | null
}

/** Smallest share of its mean to which a backlight waveform may fall and still be divided by. */
export const DIVIDE_FLOOR = 0.1

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
      if (frequency === null)
        return plain('No ripple stands out of the plateaus, so there is no period to average over.')
      const width = condition.periods / frequency
      if (width >= series.n / 2) {
        return plain(`The mean over ${condition.periods} ripple period(s) is longer than half the record.`)
      }
      const out = buffer(workspace, series.n)
      movingAverage(series, width, out)
      return {
        series: seriesOf(out, workspace.conditionedPrefix),
        noiseGain: width > 1 ? 1 / Math.sqrt(width) : 1,
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
        noiseGain: lowPassNoiseGain(condition.cutoffHz, sampleRateHz, condition.phase, condition.shape),
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
  return { series: seriesOf(out), noiseGain: Math.sqrt(squares), meanWidth: 0, frequency: null, problem: null }
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
  if (rough === null) return plain('No ripple stands out of the plateaus, so there is no waveform to divide by.')
  const frequency = sharpenFrequency(series, plateaus, rough)
  const waveform = rippleWaveform(series, plateaus, frequency, darkV)
  if (!waveform) return plain('The plateaus are shorter than one ripple period.')
  if (waveform.min < DIVIDE_FLOOR) {
    return plain(
      `The backlight falls to ${(100 * Math.max(0, waveform.min)).toFixed(0)} % of its mean within a period; ` +
        `dividing by it needs at least ${100 * DIVIDE_FLOOR} %.`,
    )
  }
  const out = buffer(workspace, series.n)
  const { values } = waveform
  const bins = values.length
  let inverse = 0
  for (let k = 0; k < series.n; k++) {
    // Position between bin centres; the phase runs from sample 0, as the waveform's does.
    const x = ((k * frequency) % 1) * bins - 0.5 + bins
    const b = Math.floor(x)
    const f = x - b
    const w = values[b % bins]! * (1 - f) + values[(b + 1) % bins]! * f
    out[k] = (series.v[k]! - darkV) / w + darkV
    inverse += 1 / (w * w)
  }
  return {
    series: seriesOf(out, workspace.conditionedPrefix),
    noiseGain: Math.sqrt(inverse / series.n),
    meanWidth: 0,
    frequency,
    problem: null,
  }
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
