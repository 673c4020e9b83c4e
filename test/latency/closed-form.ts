/**
 * Events to light in closed form, sharing nothing with the program: a host that polls, a frame clock of random phase, a
 * display that waits and then approaches its level exponentially, white noise, a sampled record.
 */
import type { RawTrace } from '#shared/domain/capture.ts'

export interface EventModel {
  readonly refreshHz: number
  /** All in ms. */
  readonly hostMs: number
  readonly pollMs: number
  readonly signalDelayMs: number
  /** Time constant of the response; half of the step comes ln 2 of it after the beginning. */
  readonly tauMs: number
}

/** sfc32 (Doty-Humphrey, PractRand). */
export function uniformSource(seed: number): () => number {
  let [a, b, c, count] = [0x9e3779b9 | 0, seed | 0, 0x243f6a88 | 0, 1]
  const next = (): number => {
    const sum = (((a + b) | 0) + count) | 0
    count = (count + 1) | 0
    a = b ^ (b >>> 9)
    b = (c + (c << 3)) | 0
    c = ((c << 21) | (c >>> 11)) + sum
    return (sum >>> 0) / 2 ** 32
  }
  for (let i = 0; i < 15; i++) next()
  return next
}

/** Standard normal values by Box and Muller. */
export function normalValues(count: number, uniform: () => number): Float32Array {
  return Float32Array.from(
    { length: count },
    () => Math.sqrt(-2 * Math.log(1 - uniform())) * Math.cos(2 * Math.PI * uniform()),
  )
}

export interface ModelEvent {
  readonly onsetMs: number
  readonly halfMs: number
}

/** One event: host, poll wait U(0, poll), frame wait U(0, T), signal delay. */
export function drawEvent(model: EventModel, uniform: () => number): ModelEvent {
  const frameMs = 1000 / model.refreshHz
  const onsetMs = model.hostMs + model.pollMs * uniform() + frameMs * uniform() + model.signalDelayMs
  return { onsetMs, halfMs: onsetMs + Math.LN2 * model.tauMs }
}

/** Quantile of the half-way delay: of the sum of two uniform waits (a trapezoid) behind fixed parts. */
export function trueQuantile(model: EventModel, q: number): number {
  const frameMs = 1000 / model.refreshHz
  const [short, long] = [Math.min(model.pollMs, frameMs), Math.max(model.pollMs, frameMs)]
  const fixed = model.hostMs + model.signalDelayMs + Math.LN2 * model.tauMs
  const ramp = short / (2 * long)
  const lower = (share: number): number =>
    share <= ramp ? Math.sqrt(2 * share * short * long) : share * long + short / 2
  return fixed + (q <= 0.5 ? lower(q) : short + long - lower(1 - q))
}

export const trueMean = (model: EventModel): number =>
  model.hostMs + model.pollMs / 2 + 500 / model.refreshHz + model.signalDelayMs + Math.LN2 * model.tauMs

/** The record of an event that started it, 4 V of step, sampled at any phase against the event. */
export function eventRecord(
  { onsetMs }: Pick<ModelEvent, 'onsetMs'>,
  tauMs: number,
  options: {
    readonly sampleRateHz: number
    readonly beforeS: number
    readonly afterS: number
    readonly noiseV: number
    /** Standard normal values to take the noise from, at least as many as samples. */
    readonly normal: Float32Array
  },
  uniform: () => number,
): { readonly trace: RawTrace & { readonly format: 'real32' }; readonly triggerIndex: number } {
  const { sampleRateHz, beforeS, afterS, noiseV, normal } = options
  const triggerIndex = Math.round(beforeS * sampleRateHz)
  const n = triggerIndex + Math.round(afterS * sampleRateHz)
  const samples = new Float32Array(n)
  // The edge falls anywhere within the sample that counts as its own.
  const phase = uniform() - 0.5
  const from = Math.floor(uniform() * (normal.length - n + 1))
  for (let i = 0; i < n; i++) {
    const ms = (1000 * (i - triggerIndex + phase)) / sampleRateHz - onsetMs
    samples[i] = 0.02 + (ms > 0 ? 4 * (1 - Math.exp(-ms / tauMs)) : 0) + noiseV * (normal[from + i] as number)
  }
  return { trace: { format: 'real32', samples, sampleRateHz, scaleV: 1, offsetV: 0, rangeV: 5 }, triggerIndex }
}
