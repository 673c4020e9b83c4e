/**
 * A free-running record measured as periodic light: repetition frequency, modulation depth, and the published flicker
 * readings, each under the label of its variant. Light = volts minus the dark offset; all depths are relative to it, so
 * no calibration is needed, but the dark offset must be right.
 */
import type { RawTrace } from '../domain/capture.ts'
import {
  type Component,
  modulationRegion,
  type ModulationRegion,
  svm,
  SVM_LIMIT_HZ,
  tableFlicker,
  visibleFlicker,
} from './flicker-weights.ts'
import { pstLm } from './flicker-pst.ts'
import { meanCycle, MIN_SAMPLES_PER_CYCLE, readCycle } from './periodic-cycle.ts'
import {
  findFundamental,
  flatTopSpectrum,
  type Fundamental,
  harmonicAmplitudes,
  MIN_CYCLES,
} from './periodic-spectrum.ts'

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
    meaning: '100·(max − min)/(max + min) of the mean cycle.',
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
  rms_pct: { label: 'RMS modulation', unit: '%', meaning: 'Standard deviation of the mean cycle over its mean.' },
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

/** Most harmonics computed one by one; further ones come from the flat-top spectrum. */
const DIRECT_HARMONICS = 60

function componentsOf(light: Float64Array, rate: number, found: Fundamental, meanLight: number): Component[] {
  const top = Math.min(SVM_LIMIT_HZ, 0.45 * rate)
  if (!found.harmonic)
    return found.lines
      .filter((line) => line.frequencyHz <= top)
      .map((line) => ({ frequencyHz: line.frequencyHz, relative: line.amplitude / meanLight }))
      .sort((a, b) => a.frequencyHz - b.frequencyHz)
  const count = Math.floor(top / found.frequencyHz)
  const direct = Math.min(count, DIRECT_HARMONICS)
  const amplitudes = harmonicAmplitudes(light, rate, found.frequencyHz, direct)
  const components: Component[] = []
  for (let m = 1; m <= count; m++) {
    const frequencyHz = m * found.frequencyHz
    const bin = Math.round(frequencyHz / found.spectrum.binHz)
    const amplitude = m <= direct ? (amplitudes[m - 1] as number) : (found.spectrum.amplitude[bin] ?? 0)
    components.push({ frequencyHz, relative: amplitude / meanLight })
  }
  return components
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
  const notes: string[] = []
  /** Gives every value that is still missing the same reason. */
  const explain = (reason: string, ids: readonly PeriodicId[] = PERIODIC_IDS) => {
    for (const id of ids) if (values[id] === null) reasons[id] ??= reason
  }
  const set = (id: PeriodicId, value: number | null, reason: string) => {
    if (value !== null && Number.isFinite(value)) values[id] = value
    else reasons[id] = reason
  }
  const done = (
    cycles: number,
    components: Component[],
    spectrum: PeriodicResult['spectrum'],
    regions: ModulationRegion[],
  ): PeriodicResult => ({ values, reasons, cycles, components, spectrum, regions, notes })

  if (options.darkV === undefined || options.darkV === null)
    notes.push('The dark level was not measured; 0 V is taken, and depths are too small if the detector has an offset.')
  if (clipped > 0)
    notes.push(`${clipped} samples lie at the rail of ±${trace.rangeV} V; the waveform is cut off there.`)
  const meanLight = sum / n
  if (n === 0 || !Number.isFinite(meanLight)) {
    explain(n === 0 ? 'The record is empty.' : 'The record holds values that are no numbers.')
    return done(0, [], null, [])
  }
  values.mean_v = meanLight
  if (!(meanLight > 0)) {
    explain('There is no light above the dark level on average.')
    return done(0, [], null, [])
  }

  const pst = pstLm(light, rate)
  set('pst_lm', pst.value, pst.reason ?? 'PstLM is not finite.')
  if (pst.note !== null) notes.push(`PstLM: ${pst.note}`)

  const flat = flatTopSpectrum(light, rate)
  if (flat === null) {
    explain(`The record has ${n} samples; at least 64 are needed.`)
    return done(0, [], null, [])
  }
  const spectrum = { binHz: flat.binHz, relative: flat.amplitude.map((amplitude) => amplitude / meanLight) }
  const found = findFundamental(light, rate, flat)
  if (found === null) {
    const bound = Math.max(1e-6, (100 * 6 * flat.noise) / meanLight).toPrecision(2)
    explain(
      `No line stands out of the noise: nothing periodic above ${bound} % of the mean, ${MIN_CYCLES} cycles or more in the record.`,
    )
    return done(0, [], spectrum, [])
  }
  values.fundamental_hz = found.frequencyHz
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
    set('svm', svm(components), 'SVM is not finite.')
    if (rate < 10_000) notes.push('Below 10 kS/s, components near 2 kHz can be aliases of faster light.')
  }
  const visible = visibleFlicker(components)
  const table = tableFlicker(components)
  const none = 'There is no component at or under 120 Hz.'
  set('visibility_jnd', visible?.jnd ?? null, none)
  set('visibility_db_amplitude', visible?.dbAmplitude ?? null, none)
  set('visibility_db_half', visible?.dbHalf ?? null, none)
  set('table_db_amplitude', table?.dbAmplitude ?? null, none)
  set('table_db_power', table?.dbPower ?? null, none)

  const samplesPerCycle = rate / found.frequencyHz
  const folded = found.harmonic ? meanCycle(light, rate, found.frequencyHz) : null
  if (!found.harmonic) explain('The strong lines share no fundamental, so there is no cycle to read.')
  if (folded === null) return done(0, components, spectrum, [])
  if (samplesPerCycle < MIN_SAMPLES_PER_CYCLE) {
    explain(`A cycle has ${samplesPerCycle.toPrecision(3)} samples; its shape needs at least ${MIN_SAMPLES_PER_CYCLE}.`)
    return done(folded.cycles, components, spectrum, [])
  }
  const reading = readCycle(folded.cycle)
  const notPositive = 'The mean cycle is not above the dark level.'
  set('percent_flicker_pct', reading.percentFlicker, notPositive)
  set('peak_to_peak_pct', reading.peakToPeakOverMean, notPositive)
  set('flicker_index', reading.flickerIndex, notPositive)
  set('duty_pct', 100 * reading.duty, notPositive)
  set('rms_pct', (100 * reading.rms) / reading.mean, notPositive)
  set('noise_pct', (100 * residual(light, folded.cycle, samplesPerCycle)) / meanLight, notPositive)
  if (reading.min < 0)
    notes.push('The mean cycle falls under the dark level: the dark offset or the noise is too large.')
  const regions = reading.percentFlicker === null ? [] : [modulationRegion(found.frequencyHz, reading.percentFlicker)]
  return done(folded.cycles, components, spectrum, regions)
}
