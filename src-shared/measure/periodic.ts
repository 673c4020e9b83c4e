/**
 * A free-running record measured as periodic light: repetition frequency, modulation depth, and the published flicker
 * readings, each under the label of its variant. Light = volts minus the dark offset; all depths are relative to it, so
 * no calibration is needed, but the dark offset must be right.
 */
import type { RawTrace } from '../domain/capture.ts'
import { pstLm } from './flicker-pst.ts'
import {
  type Component,
  modulationRegion,
  type ModulationRegion,
  svm,
  tableFlicker,
  visibleFlicker,
} from './flicker-weights.ts'
import { componentsOf } from './periodic-components.ts'
import { MIN_SAMPLES_PER_CYCLE, readCycle } from './periodic-cycle.ts'
import { fitPeriodic, type Uncertain } from './periodic-fit.ts'
import { findFundamental, FLAT_TOP_BANDWIDTH, flatTopSpectrum, MIN_CYCLES } from './periodic-spectrum.ts'

export interface PeriodicInfo {
  readonly label: string
  readonly unit: 'Hz' | '%' | 'V' | 'dB' | '1'
  readonly meaning: string
}

export const PERIODIC_MEASURES = {
  fundamental_hz: {
    label: 'Fundamental',
    unit: 'Hz',
    meaning: 'Repetition frequency: the largest of which every strong line is a multiple.',
  },
  mean_v: { label: 'Mean light', unit: 'V', meaning: 'Mean of the record above the dark offset.' },
  percent_flicker_pct: {
    label: 'Percent flicker',
    unit: '%',
    meaning: '100·(max − min)/(max + min) of the mean cycle, without what noise adds to its extremes.',
  },
  peak_to_peak_pct: {
    label: 'Peak to peak over mean',
    unit: '%',
    meaning: '100·(max − min)/mean of the mean cycle; equals twice the percent flicker only for symmetric waveforms.',
  },
  flicker_index: {
    label: 'Flicker index',
    unit: '1',
    meaning: 'Area of the mean cycle above its mean, divided by its whole area.',
  },
  duty_pct: { label: 'Duty', unit: '%', meaning: 'Share of the mean cycle above half way between its extremes.' },
  rms_pct: {
    label: 'RMS modulation',
    unit: '%',
    meaning: 'Standard deviation of the mean cycle over its mean, noise taken off.',
  },
  noise_pct: {
    label: 'Residual',
    unit: '%',
    meaning:
      'Standard deviation of the record around its mean cycle, over the mean: noise and everything not periodic.',
  },
  svm: {
    label: 'Stroboscopic visibility (SVM)',
    unit: '1',
    meaning:
      'Minkowski sum (3.7) of components over their thresholds up to 2 kHz, after IEC TR 63158 (from memory). Made for room lighting: supplementary for a screen.',
  },
  pst_lm: {
    label: 'Short-term flicker (PstLM)',
    unit: '1',
    meaning: 'Light flickermeter chain of IEC TR 61547-1; 1 is the threshold of irritation.',
  },
  visibility_jnd: {
    label: 'Flicker visibility (JND)',
    unit: '1',
    meaning: 'Largest contrast × temporal sensitivity (Watson & Ahumada 2011) up to 120 Hz.',
  },
  visibility_db_amplitude: {
    label: 'Flicker, 20·log(2P/K₀), sensitivity weights',
    unit: 'dB',
    meaning: '20·log₁₀ of twice the sensitivity-weighted DFT peak over the mean: 20·log₁₀ of the JND.',
  },
  visibility_db_half: {
    label: 'Flicker, 10·log(P/K₀), sensitivity weights',
    unit: 'dB',
    meaning: '10·log₁₀ of the sensitivity-weighted DFT peak over the mean.',
  },
  table_db_amplitude: {
    label: 'Flicker, 20·log, table weights',
    unit: 'dB',
    meaning: '20·log₁₀ of amplitude over mean with the weights 0/−3/−6/−12/−40 dB at 20/30/40/50/60 Hz (from memory).',
  },
  table_db_power: {
    label: 'Flicker, 10·log of power, table weights',
    unit: 'dB',
    meaning: '10·log₁₀ of the power ratio with the same weights: 6.02 dB under the amplitude reading.',
  },
} as const satisfies Record<string, PeriodicInfo>

export type PeriodicId = keyof typeof PERIODIC_MEASURES
export const PERIODIC_IDS = Object.keys(PERIODIC_MEASURES) as PeriodicId[]

export interface PeriodicOptions {
  /** Mean with the sensor covered, V; null or absent = 0 V, which is noted. */
  readonly darkV?: number | null
}

/** Numbers of one free-running record. A null value always has a reason; NaN and infinities never appear. */
export interface PeriodicResult {
  readonly values: Readonly<Record<PeriodicId, number | null>>
  readonly reasons: Readonly<Partial<Record<PeriodicId, string>>>
  /** Standard uncertainties from noise, in the unit of the value; a wrong dark offset is not in them. */
  readonly uncertainties: Readonly<Partial<Record<PeriodicId, number>>>
  /** Of readings without a value: what a single line that noise hides stays under, in their unit. */
  readonly limits: Readonly<Partial<Record<PeriodicId, number>>>
  /** Whole cycles averaged; 0 when nothing periodic was found. */
  readonly cycles: number
  /** Components relative to the mean, up to 2 kHz, ascending; harmonics, or single lines when these share no fundamental. */
  readonly components: readonly Component[]
  /** Flat-top amplitude spectrum relative to the mean; bin k at k·binHz. Null when the record is too short or dark. */
  readonly spectrum: { readonly binHz: number; readonly relative: Float64Array } | null
  /** Where the modulation lies against published lines: context, not a verdict. */
  readonly regions: readonly ModulationRegion[]
  /** What a reader must know about these numbers. */
  readonly notes: readonly string[]
}

/** Standard deviation of the record around its mean cycle. */
function residual(light: Float64Array, cycle: Float64Array, samplesPerCycle: number): number {
  let squares = 0
  for (let i = 0; i < light.length; i++) {
    const at = ((i / samplesPerCycle) % 1) * cycle.length
    const low = Math.floor(at)
    const first = cycle[low % cycle.length] as number
    const next = cycle[(low + 1) % cycle.length] as number
    squares += ((light[i] as number) - first - (at - low) * (next - first)) ** 2
  }
  return Math.sqrt(squares / light.length)
}

/**
 * Measures a free-running record of a steady picture.
 *
 * Undefined with a reason: everything but the mean without light above dark; frequency-bound values when no line stands
 * out of the noise or fewer than 8 cycles were recorded; waveform readings under 20 samples a cycle; SVM under 4 kS/s;
 * PstLM under 2 kS/s or 60 s.
 */
export function measurePeriodic(trace: RawTrace, options: PeriodicOptions = {}): PeriodicResult {
  const rate = trace.sampleRateHz
  const offset = trace.offsetV - (options.darkV ?? 0)
  const n = trace.samples.length
  const light = new Float64Array(n)
  let sum = 0
  let clipped = 0
  const rail = 0.999 * trace.rangeV
  for (let i = 0; i < n; i++) {
    const scaled = (trace.samples[i] as number) * trace.scaleV
    if (Math.abs(scaled + trace.offsetV) >= rail) clipped++
    light[i] = scaled + offset
    sum += scaled + offset
  }
  const values = Object.fromEntries(PERIODIC_IDS.map((id) => [id, null])) as Record<PeriodicId, number | null>
  const reasons: Partial<Record<PeriodicId, string>> = {}
  const uncertainties: Partial<Record<PeriodicId, number>> = {}
  const limits: Partial<Record<PeriodicId, number>> = {}
  const notes: string[] = []
  /** Gives every value that is still missing the same reason. */
  const explain = (reason: string, ids: readonly PeriodicId[] = PERIODIC_IDS) => {
    for (const id of ids) if (values[id] === null) reasons[id] ??= reason
  }
  const set = (id: PeriodicId, value: number | null, reason: string, u: number | null = null) => {
    if (value !== null && Number.isFinite(value)) {
      values[id] = value
      if (u !== null && Number.isFinite(u)) uncertainties[id] = u
    } else reasons[id] = reason
  }
  const setFound = (id: PeriodicId, found: Uncertain | null, reason: string) =>
    set(id, found?.value ?? null, reason, found?.u)
  const done = (
    cycles: number,
    components: Component[],
    spectrum: PeriodicResult['spectrum'],
    regions: ModulationRegion[],
  ): PeriodicResult => ({ values, reasons, uncertainties, limits, cycles, components, spectrum, regions, notes })

  if (options.darkV === undefined || options.darkV === null)
    notes.push('The dark level was not measured; 0 V is taken, and depths are too small if the detector has an offset.')
  if (clipped > 0)
    notes.push(`${clipped} samples lie at the rail of ±${trace.rangeV} V; the waveform is cut off there.`)
  const meanLight = sum / n
  if (n === 0 || !Number.isFinite(meanLight)) {
    explain(n === 0 ? 'The record is empty.' : 'The record holds values that are not numbers.')
    return done(0, [], null, [])
  }
  values.mean_v = meanLight
  if (!(meanLight > 0)) {
    explain('There is no light above the dark level on average.')
    return done(0, [], null, [])
  }

  const flat = flatTopSpectrum(light, rate)
  // E|a|² of a noise bin is 4·σ²·bandwidth/n, and the one-sided density of white noise 2·σ²/rate.
  const density = flat === null ? 0 : (flat.noise ** 2 * flat.samples) / (2 * FLAT_TOP_BANDWIDTH * rate)
  const pst = pstLm(light, rate, density)
  set('pst_lm', pst.value, pst.reason ?? 'PstLM is not finite.', pst.u)
  if (pst.note !== null) notes.push(`PstLM: ${pst.note}`)

  if (flat === null) {
    explain(`The record has ${n} samples; at least 64 are needed.`)
    return done(0, [], null, [])
  }
  const spectrum = { binHz: flat.binHz, relative: flat.amplitude.map((amplitude) => amplitude / meanLight) }
  const found = findFundamental(light, rate, flat)
  if (found === null) {
    const hidden = Math.max(1e-8, (HIDDEN * flat.noise) / meanLight)
    limits.percent_flicker_pct = 100 * hidden
    limits.peak_to_peak_pct = 200 * hidden
    limits.flicker_index = hidden / Math.PI
    limits.rms_pct = (100 * hidden) / Math.SQRT2
    explain(
      `No line stands out from the noise: nothing periodic above ${(100 * hidden).toPrecision(2)} % of the mean, ${MIN_CYCLES} cycles or more in the record.`,
    )
    return done(0, [], spectrum, [])
  }
  if (found.fewCycles !== null) {
    explain(
      `The light repeats about ${found.fewCycles.toPrecision(2)} times in the record; ${MIN_CYCLES} times are needed. Record longer.`,
    )
    return done(0, componentsOf(light, rate, found, meanLight), spectrum, [])
  }
  values.fundamental_hz = found.frequencyHz
  uncertainties.fundamental_hz = frequencyU(found.lines[0]?.amplitude ?? 0, flat, n, rate)
  const components = componentsOf(light, rate, found, meanLight)
  if (!found.harmonic)
    notes.push(
      `The strong lines share no fundamental (${found.lines
        .slice(0, 4)
        .map((line) => `${line.frequencyHz.toPrecision(5)} Hz`)
        .join(', ')}); waveform readings would depend on the moment and are left out.`,
    )
  if (rate < 4000) reasons.svm = `SVM counts components to 2 kHz and needs at least 4 kS/s; the record has ${rate} S/s.`
  else {
    setFound('svm', svm(components), 'SVM is not finite.')
    if (rate < 10_000) notes.push('Below 10 kS/s, components near 2 kHz can be aliases of faster light.')
  }
  const visible = visibleFlicker(components)
  const table = tableFlicker(components)
  const none = 'There is no component at or under 120 Hz.'
  const decibels = (relative: number | undefined): number | null => (relative === undefined ? null : DB * relative)
  set('visibility_jnd', visible?.jnd ?? null, none, visible === null ? null : visible.jnd * visible.uRelative)
  set('visibility_db_amplitude', visible?.dbAmplitude ?? null, none, decibels(visible?.uRelative))
  set(
    'visibility_db_half',
    visible?.dbHalf ?? null,
    none,
    decibels(visible === null ? undefined : visible.uRelative / 2),
  )
  set('table_db_amplitude', table?.dbAmplitude ?? null, none, decibels(table?.uRelative))
  set('table_db_power', table?.dbPower ?? null, none, decibels(table?.uRelative))

  const samplesPerCycle = rate / found.frequencyHz
  if (!found.harmonic) {
    explain('The strong lines share no fundamental, so there is no cycle to read.')
    return done(0, components, spectrum, [])
  }
  const orders = found.lines.map((line) => Math.round(line.frequencyHz / found.frequencyHz))
  const fit = fitPeriodic(light, rate, found.frequencyHz, orders)
  if (fit === null) {
    explain('The record holds no two whole cycles.')
    return done(0, components, spectrum, [])
  }
  if (samplesPerCycle < MIN_SAMPLES_PER_CYCLE) {
    explain(`A cycle has ${samplesPerCycle.toPrecision(3)} samples; its shape needs at least ${MIN_SAMPLES_PER_CYCLE}.`)
    return done(fit.cycles, components, spectrum, [])
  }
  const notPositive = 'The mean cycle is not above the dark level.'
  setFound('percent_flicker_pct', fit.percentFlicker, notPositive)
  setFound('peak_to_peak_pct', fit.peakToPeakOverMean, notPositive)
  setFound('flicker_index', fit.flickerIndex, notPositive)
  set('duty_pct', 100 * readCycle(fit.cycle).duty, notPositive)
  set('rms_pct', (100 * fit.rms.value) / fit.mean.value, notPositive, (100 * fit.rms.u) / fit.mean.value)
  set('noise_pct', (100 * residual(light, fit.cycle, samplesPerCycle)) / meanLight, notPositive)
  uncertainties.mean_v = fit.mean.u
  if (fit.min.value + 2 * fit.min.u < 0)
    notes.push('The mean cycle falls under the dark level: the dark offset is too large.')
  const regions = fit.percentFlicker === null ? [] : [modulationRegion(found.frequencyHz, fit.percentFlicker.value)]
  return done(fit.cycles, components, spectrum, regions)
}

/**
 * Rms amplitudes of noise under which a line may hide: 4.3 to stand out of 10⁶ bins at 1 %, and 1.2 more, so that one in
 * twenty of that size is missed (a Rice distribution; from memory).
 */
const HIDDEN = 5.5

/** Decibels of amplitude per relative change. */
const DB = 20 / Math.LN10

/**
 * Standard uncertainty of a line's frequency, √12·σ/(π·A·N^1.5) of the sample rate: the phases of two halves under a Hann
 * window have 1.5 times the least variance and are half a record apart, which makes √2 of the Cramér–Rao bound.
 */
function frequencyU(
  amplitude: number,
  { noise, samples }: { noise: number; samples: number },
  n: number,
  rate: number,
): number {
  const sigma = noise * Math.sqrt(samples / (4 * FLAT_TOP_BANDWIDTH))
  return amplitude > 0 ? (Math.sqrt(12) * sigma * rate) / (Math.PI * amplitude * n ** 1.5) : 0
}
