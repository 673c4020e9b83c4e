/** Periodic light in one record, with everything a screen draws of it. */
import type { RawTrace } from '../domain/capture.ts'
import type { Envelope } from '../domain/views.ts'
import { meanCycles, MIN_SAMPLES_PER_CYCLE } from './periodic-cycle.ts'
import { measurePeriodic, type PeriodicResult } from './periodic.ts'

export interface LightInput {
  readonly trace: RawTrace
  /** Samples [first, end) that are measured: a steady picture. */
  readonly first: number
  readonly end: number
  /** Mean with the sensor covered, V; null takes 0 V. */
  readonly darkV: number | null
}

export interface LightMeasurement extends Omit<PeriodicResult, 'spectrum'> {
  /** Mean cycle, light ÷ its mean, equally spaced over one period from its least; null without a cycle to read. */
  readonly waveform: Float32Array | null
  /** Amplitude ÷ mean, the largest of each column; column k from k·stepHz to (k + 1)·stepHz. */
  readonly spectrum: { readonly stepHz: number; readonly relative: Float32Array } | null
}

/** What the interface is told of a steady part of a stored capture, or of a recording that is not stored. */
export interface LightReading extends LightMeasurement {
  readonly sampleRateHz: number
  /** What was measured, s from the first sample, and how many samples that is. */
  readonly fromS: number
  readonly toS: number
  readonly samples: number
  /** The measured part for drawing, V. */
  readonly envelope: Envelope
  /** What is to be known about the record itself. */
  readonly warnings: readonly string[]
}

/** Columns of the spectrum and points of the waveform that are handed on at most. */
const MOST_COLUMNS = 4096
const MOST_POINTS = 2048
/** The spectrum is shown this far: components above 2 kHz enter no reading, the next octave shows what was left out. */
const SPECTRUM_LIMIT_HZ = 4000

/** A span of a record measured as periodic light. RangeError when the span is not within the record. */
export function measureLight({ trace, first, end, darkV }: LightInput): LightMeasurement {
  if (!(first >= 0 && end <= trace.samples.length && end > first))
    throw new RangeError('The span is not within the record.')
  const span: RawTrace = { ...trace, samples: trace.samples.subarray(first, end) }
  const { spectrum, ...result } = measurePeriodic(span, { darkV })
  return {
    ...result,
    waveform: waveformOf(span, darkV ?? 0, result.values.fundamental_hz, result.values.duty_pct !== null),
    spectrum: spectrum === null ? null : pooled(spectrum.relative, spectrum.binHz),
  }
}

function waveformOf(
  span: RawTrace,
  darkV: number,
  fundamentalHz: number | null,
  hasCycle: boolean,
): Float32Array | null {
  if (fundamentalHz === null || !hasCycle || span.sampleRateHz / fundamentalHz < MIN_SAMPLES_PER_CYCLE) return null
  const light = Float64Array.from(span.samples, (code) => code * span.scaleV + span.offsetV - darkV)
  const folded = meanCycles(light, span.sampleRateHz, fundamentalHz)
  if (folded === null) return null
  const cycle = folded.even.map((value, i) => 0.5 * (value + (folded.odd[i] as number)))
  let mean = 0
  let least = 0
  for (let i = 0; i < cycle.length; i++) {
    mean += (cycle[i] as number) / cycle.length
    if ((cycle[i] as number) < (cycle[least] as number)) least = i
  }
  if (!(mean > 0)) return null
  const points = Math.min(MOST_POINTS, cycle.length)
  return Float32Array.from(
    { length: points },
    (_, i) => (cycle[(least + Math.round((i * cycle.length) / points)) % cycle.length] as number) / mean,
  )
}

function pooled(relative: Float64Array, binHz: number): NonNullable<LightMeasurement['spectrum']> {
  const bins = Math.min(relative.length, Math.ceil(SPECTRUM_LIMIT_HZ / binHz))
  const perColumn = Math.max(1, Math.ceil(bins / MOST_COLUMNS))
  const columns = new Float32Array(Math.ceil(bins / perColumn))
  for (let k = 0; k < bins; k++) {
    const column = Math.floor(k / perColumn)
    columns[column] = Math.max(columns[column] as number, relative[k] as number)
  }
  return { stepHz: binHz * perColumn, relative: columns }
}
