/** Closed-form transitions for tests. Time 0 is the edge, the step goes from 0 to 1; `asTrace` scales it to volts. */
import type { RawTrace } from '#shared/domain/capture.ts'
import type { MeasureInput } from '#shared/domain/measure-input.ts'
import { DEFAULT_RECIPE, recipeSchema } from '#shared/domain/recipe.ts'
import type { RecipeInput } from '../support/recipe-input.ts'
import { normalCdf } from '#shared/signal/normal.ts'

export type Wave = (t: number) => number

const after =
  (wave: Wave): Wave =>
  (t) =>
    t < 0 ? 0 : wave(t)

export const firstOrder = (tau: number): Wave => after((t) => -Math.expm1(-t / tau))
export const ramp = (length: number): Wave => after((t) => Math.min(1, t / length))
export const raisedCosine = (length: number): Wave =>
  after((t) => (t >= length ? 1 : 0.5 * (1 - Math.cos((Math.PI * t) / length))))
/** Centred on 0. */
export const gaussianEdge =
  (sigma: number): Wave =>
  (t) =>
    normalCdf(t / sigma)
export const logistic =
  (s: number): Wave =>
  (t) =>
    1 / (1 + Math.exp(-t / s))
export const twoEqualPoles = (tau: number): Wave => after((t) => 1 - (1 + t / tau) * Math.exp(-t / tau))
/** Cascade of two different first-order systems. */
export const twoPoles = (tau: number, second: number): Wave =>
  after((t) => 1 - (tau * Math.exp(-t / tau) - second * Math.exp(-t / second)) / (tau - second))
export const secondOrder = (damping: number, omega: number): Wave => {
  const root = Math.sqrt(1 - damping * damping)
  return after((t) => {
    const phase = omega * root * t
    return 1 - Math.exp(-damping * omega * t) * (Math.cos(phase) + (damping / root) * Math.sin(phase))
  })
}
/** Overdrive: 1 + a·e^(−t/t2) − (1 + a)·e^(−t/t1). */
export const overdrive = (a: number, t1: number, t2: number): Wave =>
  after((t) => 1 + a * Math.exp(-t / t2) - (1 + a) * Math.exp(-t / t1))

/** Seeded uniform numbers in (0, 1) (mulberry32). */
export function uniform(seed: number): () => number {
  let state = seed >>> 0
  return () => {
    state = (state + 0x6d2b79f5) >>> 0
    let t = state
    t = Math.imul(t ^ (t >>> 15), t | 1)
    t ^= t + Math.imul(t ^ (t >>> 7), t | 61)
    return (((t ^ (t >>> 14)) >>> 0) + 0.5) / 4294967296
  }
}

/** Seeded standard normal numbers (Box–Muller). */
export function gaussian(seed: number): () => number {
  const random = uniform(seed)
  let spare: number | null = null
  return () => {
    if (spare !== null) {
      const value = spare
      spare = null
      return value
    }
    const radius = Math.sqrt(-2 * Math.log(random()))
    const angle = 2 * Math.PI * random()
    spare = radius * Math.sin(angle)
    return radius * Math.cos(angle)
  }
}

export interface TraceShape {
  readonly rateHz: number
  /** Recorded before and after the edge, s. */
  readonly preS: number
  readonly postS: number
  /** Voltages before and after; 0.5 → 4.5 V by default. */
  readonly fromV?: number
  readonly toV?: number
  /** Standard deviation of the sample noise, V, and its seed. */
  readonly noiseV?: number
  readonly seed?: number
  /** Moves the edge within a sample interval, in samples. */
  readonly phase?: number
  readonly rangeV?: number
  /** 16-bit codes instead of single floats. */
  readonly int16?: boolean
  /** Factor on the finished signal (ripple). */
  readonly factor?: (t: number) => number
}

export interface MadeTrace {
  readonly trace: RawTrace
  /** Sample nearest to the edge. */
  readonly triggerIndex: number
}

/** Samples a wave. Values are rounded as the format does (32-bit floats or 16-bit codes), as in a real record. */
export function asTrace(wave: Wave, shape: TraceShape): MadeTrace {
  const { rateHz, preS, postS, fromV = 0.5, toV = 4.5, noiseV = 0, seed = 1, phase = 0, rangeV = 10 } = shape
  const triggerIndex = Math.round(preS * rateHz)
  const count = triggerIndex + Math.round(postS * rateHz)
  const noise = gaussian(seed)
  const scaleV = shape.int16 === true ? rangeV / 32768 : 1
  const samples = shape.int16 === true ? new Int16Array(count) : new Float32Array(count)
  for (let i = 0; i < count; i++) {
    const t = (i - triggerIndex - phase) / rateHz
    let volts = fromV + (toV - fromV) * wave(t)
    if (shape.factor !== undefined) volts *= shape.factor(t)
    if (noiseV > 0) volts += noiseV * noise()
    samples[i] = shape.int16 === true ? Math.max(-32768, Math.min(32767, Math.round(volts / scaleV))) : volts
  }
  const format = shape.int16 === true ? 'int16' : 'real32'
  return { trace: { format, samples, sampleRateHz: rateHz, scaleV, offsetV: 0, rangeV }, triggerIndex }
}

/** A measurement of a made trace: 0 → 255 (or 255 → 0 when it falls) unless told otherwise. */
export function inputOf(
  made: MadeTrace,
  recipe: Partial<RecipeInput> = {},
  rest: Partial<Omit<MeasureInput, 'recipe'>> = {},
): MeasureInput {
  return {
    trace: made.trace,
    triggerIndex: made.triggerIndex,
    from: 0,
    to: 255,
    refreshHz: 60,
    ladder: null,
    edgeAtTrigger: true,
    recipe: recipeSchema.parse({ ...DEFAULT_RECIPE, ...recipe }),
    ...rest,
  }
}
