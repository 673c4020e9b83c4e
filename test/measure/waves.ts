/** Waveforms in closed form and inputs for the measuring tests. Times in s, levels in V; all data is invented. */
import type { Ladder, RawTrace } from '#shared/domain/capture.ts'
import type { MeasureInput } from '#shared/domain/measure-input.ts'
import type { MeasureId } from '#shared/domain/measures.ts'
import { recipeSchema } from '#shared/domain/recipe.ts'
import type { RecipeInput } from '../support/recipe-input.ts'
import type { Flag, FlagId, Result } from '#shared/domain/result.ts'
import { measureCapture } from '#shared/measure/measure-capture.ts'

export type Wave = (t: number) => number

/** Unit step responses, 0 before t = 0. */
export const firstOrder =
  (tau: number): Wave =>
  (t) =>
    t <= 0 ? 0 : 1 - Math.exp(-t / tau)
export const secondOrder =
  (zeta: number, omega: number): Wave =>
  (t) => {
    if (t <= 0) return 0
    const damped = omega * Math.sqrt(1 - zeta * zeta)
    return 1 - Math.exp(-zeta * omega * t) * (Math.cos(damped * t) + ((zeta * omega) / damped) * Math.sin(damped * t))
  }
export const overdriven =
  (a: number, t1: number, t2: number): Wave =>
  (t) =>
    t <= 0 ? 0 : 1 + a * Math.exp(-t / t2) - (1 + a) * Math.exp(-t / t1)
export const linearRamp =
  (length: number): Wave =>
  (t) =>
    Math.min(1, Math.max(0, t / length))
export const raisedCosine =
  (length: number): Wave =>
  (t) =>
    t <= 0 ? 0 : t >= length ? 1 : 0.5 * (1 - Math.cos((Math.PI * t) / length))

/** Normal deviates of a fixed sequence (xorshift and Box–Muller). */
export function gaussian(seed: number): () => number {
  let state = (seed * 2654435761) >>> 0 || 1
  const uniform = (): number => {
    state ^= state << 13
    state >>>= 0
    state ^= state >>> 17
    state ^= state << 5
    state >>>= 0
    return (state + 0.5) / 4294967296
  }
  return () => Math.sqrt(-2 * Math.log(uniform())) * Math.cos(2 * Math.PI * uniform())
}

export interface Recording {
  readonly rate?: number
  /** Recorded before and after t = 0, s. */
  readonly pre?: number
  readonly post?: number
  readonly noise?: number
  readonly seed?: number
  /** 16-bit codes over ±5 V instead of decimal volts. */
  readonly int16?: boolean
}

export interface Trace {
  readonly trace: RawTrace
  readonly triggerIndex: number
}

/** Samples a wave; t = 0 falls between two samples unless the record says otherwise. */
export function record(wave: Wave, options: Recording = {}): Trace {
  const { rate = 100_000, pre = 0.02, post = 0.08, noise = 0, seed = 1, int16 = false } = options
  const before = Math.round(pre * rate)
  const n = before + Math.round(post * rate)
  const next = gaussian(seed)
  const volts = Float64Array.from({ length: n }, (_, k) => wave((k - before) / rate) + (noise > 0 ? noise * next() : 0))
  return { trace: traceOf(volts, rate, int16), triggerIndex: before }
}

export function traceOf(volts: ArrayLike<number>, sampleRateHz: number, int16 = false): RawTrace {
  const rangeV = 5
  if (!int16) {
    const samples = Float32Array.from(volts)
    return { format: 'real32', samples, sampleRateHz, scaleV: 1, offsetV: 0, rangeV }
  }
  const scaleV = rangeV / 32768
  const samples = Int16Array.from(volts, (y) => Math.max(-32768, Math.min(32767, Math.round(y / scaleV))))
  return { format: 'int16', samples, sampleRateHz, scaleV, offsetV: 0, rangeV }
}

export function inputOf(
  { trace, triggerIndex }: Trace,
  recipe: Partial<RecipeInput> = {},
  rest: Partial<Omit<MeasureInput, 'trace' | 'triggerIndex' | 'recipe'>> = {},
): MeasureInput {
  return {
    trace,
    triggerIndex,
    from: null,
    to: null,
    refreshHz: null,
    ladder: null,
    edgeAtTrigger: true,
    recipe: recipeSchema.parse({ name: 'test', ...recipe }),
    ...rest,
  }
}

export function measure(
  trace: Trace,
  recipe: Partial<RecipeInput> = {},
  rest: Partial<Omit<MeasureInput, 'trace' | 'triggerIndex' | 'recipe'>> = {},
): Result {
  return measureCapture(inputOf(trace, recipe, rest))
}

/** A value that must be defined. */
export function valueOf(result: Result, id: MeasureId): number {
  const value = result.values[id]
  if (value === null) throw new Error(`${id} is undefined: ${result.reasons[id]}`)
  return value
}

export const flagIds = (result: Result): FlagId[] => result.flags.map((flag) => flag.id)
export function flagOf(result: Result, id: FlagId): Flag {
  const flag = result.flags.find((one) => one.id === id)
  if (!flag) throw new Error(`no flag ${id}, only ${flagIds(result).join(', ')}`)
  return flag
}

/** sRGB light of a grey level (IEC 61966-2-1), 0–1; continued above 255. */
export function srgb(code: number): number {
  const v = code / 255
  return v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4
}

/** Ladder whose volts are dark + white × light of each level. */
export function ladderOf(
  levels: readonly number[],
  { white = 4, dark = 0, light = srgb }: { white?: number; dark?: number; light?: (code: number) => number } = {},
): Ladder {
  return {
    steps: levels.map((level) => ({ level, meanV: dark + white * light(level), sdV: 0.001, peakToPeakV: 0.006 })),
    darkV: dark,
    takenAt: '2026-01-01T00:00:00Z',
  }
}

export const ALL_LEVELS = Array.from({ length: 256 }, (_, k) => k)
