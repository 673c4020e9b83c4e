/** One step of a guided sequence read by the photodiode or by a meter. */
import { AppError } from '#shared/domain/errors.ts'
import type { RawTrace } from '#shared/domain/capture.ts'
import type { GuidedPlan, GuidedValue } from '#shared/domain/guided.ts'
import { isPossible, rowsOf } from '#shared/domain/record-kinds.ts'
import type { Reading } from '#shared/domain/reading.ts'
import type { GuidedStep } from '#shared/guided/steps.ts'
import { calibrateDetector, luminanceFromVolts } from '#shared/light/photodiode.ts'
import { newest } from '#shared/record/quantity.ts'
import { meanSd } from '#shared/signal/statistics.ts'
import { plateauOf, recordNow } from '../record.ts'
import { readStrobe } from './read-strobe.ts'
import { refuseClipped, STEADY_S, sweepPlanFor, type ReadDeps, type Taken } from './record-plan.ts'

/** Recorded for a luminance, s: whole periods of 50 and 60 Hz mains. */
const LUMINANCE_S = 0.5
const PARTS = 8
const NO_READING = { kind: '', series: null, value: null }

/** Volts to cd/m² by the newest calibration; refuses where there is none. */
export function calibrationOf(readings: readonly Reading[]): {
  readonly luminance: (volts: number, darkV: number, uV: number) => { readonly value: number; readonly u: number }
  /** Of the covered detector at the calibration, V. */
  readonly darkV: number
} {
  const reading = newest(readings, 'detector-calibration')
  const [row] = reading === undefined ? [] : rowsOf(reading)
  const [luminance = 0, volts = 0, dark = 0] = row ?? []
  const scale = calibrateDetector({ value: luminance, u: reading?.u ?? 0 }, volts, dark, 0)
  if (scale === null)
    throw new AppError(
      'conflict',
      'The photodiode is not calibrated in this campaign, so its volts are no luminance.',
      'Add one reading of a luminance meter under Detector calibration, or read by a meter.',
    )
  return { luminance: (v, darkV, uV) => luminanceFromVolts(scale, v, darkV, uV), darkV: dark }
}

/** Rejects with `rig-…`, `stimulus-…`, `conflict` or `cancelled`. */
export async function readStep(
  deps: ReadDeps,
  plan: GuidedPlan,
  step: GuidedStep,
  readings: readonly Reading[],
  signal: AbortSignal,
): Promise<Taken> {
  if (plan.sequence === 'strobing') {
    const [calibration] = rowsOf(newest(readings, 'detector-calibration') ?? NO_READING)
    return readStrobe(deps, plan, step, deps.darkV(plan.rangeV) ?? calibration?.[2] ?? null, signal)
  }
  if (plan.by === 'meter') return readMeter(deps, plan, signal)
  const { luminance, darkV: calibrated } = calibrationOf(readings)
  const { rangeV } = plan
  const seconds = plan.sequence === 'flicker' ? STEADY_S : LUMINANCE_S
  const { trace } = await recordNow(deps.rig.digitizer(), sweepPlanFor(plan), seconds, signal)
  refuseClipped(trace)
  const darkV = deps.darkV(rangeV) ?? calibrated
  const { meanV, uV } = meanOf(trace, plan.refreshHz)
  const light = { quantity: 'luminance', unit: 'cd/m²', ...luminance(meanV, darkV, uV) }
  if (plan.sequence !== 'flicker') return { values: [light], source: deps.rigIdentity(), note: '' }
  return readFlicker(deps, trace, darkV, light)
}

async function readMeter({ meters }: ReadDeps, plan: GuidedPlan, signal: AbortSignal): Promise<Taken> {
  if (meters === undefined || plan.meter === null)
    throw new AppError('rig-absent', 'No meter can be reached from here.', 'Type the value in instead.')
  const { value, identity } = await meters.read(plan.meter, plan.query, signal)
  if (!isPossible(value, { min: 0 }))
    throw new AppError(
      'rig-protocol',
      `The meter says ${value} cd/m², which is no luminance.`,
      'Check its unit and range, zero it, then read again.',
    )
  const source = [plan.source, identity].filter((part) => part !== '').join('; ')
  const quantity = plan.sequence === 'colour' ? 'Y' : 'luminance'
  return { values: [{ quantity, unit: 'cd/m²', value, u: plan.u }], source, note: '' }
}

/** Mean over whole refresh periods, and its standard uncertainty by the scatter of parts. */
function meanOf(trace: RawTrace, refreshHz: number): { readonly meanV: number; readonly uV: number } {
  const { length } = trace.samples
  const means = Array.from({ length: PARTS }, (_, i) => {
    const samples = trace.samples.subarray(Math.floor((i * length) / PARTS), Math.floor(((i + 1) * length) / PARTS))
    return plateauOf({ ...trace, samples }, refreshHz).meanV
  })
  const { mean, s } = meanSd(means)
  return { meanV: mean ?? 0, uV: (s ?? 0) / Math.sqrt(PARTS) }
}

async function readFlicker(deps: ReadDeps, trace: RawTrace, darkV: number, light: GuidedValue): Promise<Taken> {
  const { values, uncertainties, limits, regions, notes } = await deps.light({
    trace,
    first: 0,
    end: trace.samples.length,
    darkV,
  })
  const hidden = limits.percent_flicker_pct
  const percent = values.percent_flicker_pct
  if (percent === null && hidden === undefined)
    throw new AppError('rig-unsuitable', notes[0] ?? 'The light could not be read as flicker.', 'Read again.')
  /** Nothing found: 0, with what noise could hide taken as evenly likely (GUM 4.3.7). */
  const found = (id: 'percent_flicker_pct' | 'flicker_index'): Pick<GuidedValue, 'value' | 'u'> => {
    const value = values[id]
    return value === null ? { value: 0, u: (limits[id] ?? 0) / Math.sqrt(3) } : { value, u: uncertainties[id] ?? null }
  }
  const context = regions.map(({ source, region }) => `${source}: ${region}.`).join(' ')
  return {
    values: [
      light,
      { quantity: 'percent_flicker', unit: '%', ...found('percent_flicker_pct') },
      { quantity: 'flicker_index', unit: '1', ...found('flicker_index') },
      {
        quantity: 'frequency',
        unit: 'Hz',
        value: values.fundamental_hz ?? 0,
        u: uncertainties.fundamental_hz ?? null,
      },
    ],
    source: deps.rigIdentity(),
    note:
      percent === null
        ? `Nothing periodic above ${(hidden ?? 0).toPrecision(2)} %.`
        : `${context} Context, not a verdict.`.trim(),
  }
}
