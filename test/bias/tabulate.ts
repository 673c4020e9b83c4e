/** Bias of each measure against the noise-free truth of the simulated panels, per conditioning. */
import type { MeasureId } from '#shared/domain/measures.ts'
import type { Recipe } from '#shared/domain/recipe.ts'
import { type Backlight, type PanelId, simulationSchema, type SimSetting } from '#shared/domain/rig.ts'
import type { Result } from '#shared/domain/result.ts'
import { addRecordNoise, type Photodiode, photodiodeOf } from '#main/rig/simulated/optics/photodiode.ts'
import { truthNumbers, truthOf } from '../simulated/truth.ts'
import { measureCapture } from '#shared/measure/measure-capture.ts'
import { inputOf, type MadeTrace } from '../reference/waves.ts'

export const PWM_HZ = 480
const RECORD = { rateHz: 50_000, preS: 0.1, postS: 0.9, whiteV: 4, darkV: 0.02 }
/** Under pulse-width modulation the light is seen through a detector slow enough for the sample rate, Hz. */
const PWM_DETECTOR_HZ = 5000

export interface Conditioning {
  readonly name: string
  readonly backlight: Backlight
  readonly condition: Recipe['condition']
  /** With the noise of the simulated detector and digitizer, as they are by default. */
  readonly noisy?: boolean
}

export const CONDITIONINGS: readonly Conditioning[] = [
  { name: 'steady light, none', backlight: 'steady', condition: { kind: 'none' } },
  { name: 'steady light, none, noise', backlight: 'steady', condition: { kind: 'none' }, noisy: true },
  {
    name: 'steady light, mean of 1/240 s',
    backlight: 'steady',
    condition: { kind: 'one-period-mean', frequencyHz: 240, periods: 1 },
  },
  {
    name: 'steady light, Bessel 4 at 500 Hz',
    backlight: 'steady',
    condition: { kind: 'low-pass', shape: 'bessel-4', cutoffHz: 500, phase: 'zero' },
  },
  {
    name: 'steady light, Butterworth 4 at 500 Hz',
    backlight: 'steady',
    condition: { kind: 'low-pass', shape: 'butterworth-4', cutoffHz: 500, phase: 'causal' },
  },
  { name: `PWM ${PWM_HZ} Hz, none`, backlight: 'pwm', condition: { kind: 'none' } },
  {
    name: `PWM ${PWM_HZ} Hz, mean of one period`,
    backlight: 'pwm',
    condition: { kind: 'one-period-mean', frequencyHz: null, periods: 1 },
  },
  {
    name: `PWM ${PWM_HZ} Hz, mean of one period, noise`,
    backlight: 'pwm',
    condition: { kind: 'one-period-mean', frequencyHz: null, periods: 1 },
    noisy: true,
  },
]

/** Measures compared, and whether their bias is a share of the truth or in points. */
export const COMPARED = [
  ['transition_duration_s', 'share'],
  ['arrival_s', 'share'],
  ['settling_s', 'share'],
  ['overshoot_pct', 'points'],
  ['first_frame_completion_pct', 'points'],
] as const satisfies readonly (readonly [MeasureId, 'share' | 'points'])[]
export type ComparedId = (typeof COMPARED)[number][0]

const PATH = { stepS: 1 / RECORD.rateHz, filterHz: null }

function photodiodeFor(detectorHz: number | null): Photodiode {
  return photodiodeOf(
    simulationSchema.parse({
      whiteV: RECORD.whiteV + RECORD.darkV,
      darkV: RECORD.darkV,
      ...(detectorHz === null ? {} : { detectorHz }),
    }),
  )
}

export interface BiasCase {
  readonly panel: PanelId
  readonly setting: SimSetting
  readonly refreshHz: number
  readonly from: number
  readonly to: number
  readonly conditioning: Conditioning
}

export interface BiasOutcome {
  readonly bias: Readonly<Partial<Record<ComparedId, number>>>
  readonly missing: readonly ComparedId[]
  readonly flags: readonly string[]
  readonly result: Result
}

/** Measures one simulated transition and compares it with the truth, in percent of it or in points. */
export function biasOf(one: BiasCase): BiasOutcome {
  const { panel, setting, refreshHz, from, to, conditioning } = one
  const truth = truthOf({ panel, setting, refreshHz, from, to, backlight: conditioning.backlight, pwmHz: PWM_HZ })
  const numbers = truthNumbers(truth, 10, 3)
  const detectorHz = conditioning.backlight === 'pwm' ? PWM_DETECTOR_HZ : null
  const light = truth.waveform(
    -RECORD.preS,
    1 / RECORD.rateHz,
    Math.round((RECORD.preS + RECORD.postS) * RECORD.rateHz),
    detectorHz,
  )
  const volts = light.map((value) => RECORD.whiteV * value + RECORD.darkV)
  if (conditioning.noisy === true) addRecordNoise(photodiodeFor(detectorHz), volts, from * 256 + to, PATH)
  const samples = Float32Array.from(volts)
  const made: MadeTrace = {
    trace: { format: 'real32', samples, sampleRateHz: RECORD.rateHz, scaleV: 1, offsetV: 0, rangeV: 20 },
    triggerIndex: Math.round(RECORD.preS * RECORD.rateHz),
  }
  const ladder = { steps: [], darkV: RECORD.darkV, takenAt: '2030-01-01T00:00:00.000Z' }
  const result = measureCapture(inputOf(made, { condition: conditioning.condition }, { from, to, refreshHz, ladder }))
  const expected: Record<ComparedId, number> = {
    transition_duration_s: numbers.durationS,
    arrival_s: numbers.arrivalAtS - numbers.onsetS,
    settling_s: numbers.settledAtS - numbers.onsetS,
    overshoot_pct: numbers.overshootPct,
    first_frame_completion_pct: numbers.firstFramePct,
  }
  const bias: Partial<Record<ComparedId, number>> = {}
  const missing: ComparedId[] = []
  for (const [id, kind] of COMPARED) {
    const value = result.values[id]
    if (value === null) missing.push(id)
    else bias[id] = kind === 'share' ? 100 * (value / expected[id] - 1) : value - expected[id]
  }
  return { bias, missing, flags: result.flags.map((flag) => flag.id), result }
}

/** Flags by which a result says that conditioning or ripple has bent it. */
export const BIAS_FLAGS = ['conditioning-bias', 'ringing-filter', 'several-crossings'] as const

/** Whether the result says that its duration may be off: by a flag, or because the truth lies within twice its uncertainty. */
export function saysSo(outcome: BiasOutcome): boolean {
  const { values, uncertainties } = outcome.result
  const value = values.transition_duration_s
  const bias = outcome.bias.transition_duration_s
  const u = uncertainties.transition_duration_s ?? 0
  if (value !== null && bias !== undefined && Math.abs(value - value / (1 + bias / 100)) <= 2 * u) return true
  return outcome.flags.some((flag) => (BIAS_FLAGS as readonly string[]).includes(flag))
}
