/** From an input event to the light it causes, in one record. */
import type { RawTrace } from '#shared/domain/capture.ts'
import { eventEdge, type EventEdge } from './event-edge.ts'
import { levelSpread, noiseOf, voltsOf } from './plateau.ts'
import { pulsedStep } from './pulsed.ts'

export interface EventLight {
  /** From the event's edge to the last moment within `ONSET_SIGMA` of the level before, s; later with more noise. */
  readonly onsetS: number
  readonly tenthS: number
  /** To half of the step, s: what a latency means unless another point is named. */
  readonly halfS: number
  /** Standard uncertainty of `halfS`, s: noise over slope, and the edge's place between two samples. */
  readonly u: number
  /**
   * Period of light that comes in pulses, s; null for steady light. The times are then those of the first pulses that
   * belong to the new level, and the display's own change lies up to this much before them.
   */
  readonly pulseS: number | null
  /** Times the contact opened again after the edge; 0 where the rig has no second channel. */
  readonly bounces: number
}

/** Exit from the level before, in standard deviations of the samples before the event. */
export const ONSET_SIGMA = 3
/** A step under this many of them says nothing reliable of its instant: as for transitions. */
const STEP_SIGMA = 20
/** Light that moves by more than this share of the step at one level is modulated: its own edges look like it. */
const MODULATED_SHARE = 0.4
/** Range of noise alone over its standard deviation stays below this: 7 to 8 for some thousand normal samples. */
const NOISE_RANGE = 12
/** Samples before the event that its level is read from, at least. */
const LEAST_BEFORE = 8

/**
 * @param triggerIndex sample of the event's edge; the samples before it show the level before.
 * @param second the rig's second channel, over the same samples: where there is one, its edge is the event, whatever
 *   started the record.
 * @returns times, or why there are none, as a sentence.
 */
export function eventLight(trace: RawTrace, triggerIndex: number, second: RawTrace | null = null): EventLight | string {
  const dt = 1 / trace.sampleRateHz
  const edge: EventEdge | string = second === null ? { at: triggerIndex, bounces: 0, next: null } : eventEdge(second)
  if (typeof edge === 'string') return edge
  const volts = voltsOf(trace)
  const { at, bounces, next } = edge
  if (at < LEAST_BEFORE || volts.length - at < 4 * LEAST_BEFORE)
    return 'The record is too short before or after the event.'
  const light = isModulated(volts, at) ? pulsedLight(volts, at) : steadyLight(volts, at)
  if (typeof light === 'string') return light
  if (next !== null && next < light.half)
    return 'A second event came before the light of the first: which of them it answers is not known.'
  const time = (place: number): number => (place - at) * dt
  return {
    onsetS: time(light.onset),
    tenthS: time(light.tenth),
    halfS: time(light.half),
    // The edge lies anywhere between two samples: a rectangle one sample wide.
    u: dt * Math.hypot(light.u, 1 / Math.sqrt(12)),
    pulseS: light.period === null ? null : light.period * dt,
    bounces,
  }
}

/** Places in samples, and the light's own share of the uncertainty of `half`. */
interface Light {
  readonly onset: number
  readonly tenth: number
  readonly half: number
  readonly u: number
  readonly period: number | null
}

function plateaus(volts: Float64Array, event: number): { readonly before: Float64Array; readonly after: Float64Array } {
  const from = Math.floor(event)
  const n = volts.length
  return { before: volts.subarray(0, from), after: volts.subarray(n - Math.floor((n - from) / 4)) }
}

function isModulated(volts: Float64Array, event: number): boolean {
  const { before, after } = plateaus(volts, event)
  const step = Math.abs(levelSpread(after).mean - levelSpread(before).mean)
  return [before, after].some((part) => {
    const { range } = levelSpread(part)
    return range > MODULATED_SHARE * step && range > NOISE_RANGE * noiseOf(part)
  })
}

function pulsedLight(volts: Float64Array, event: number): Light | string {
  if (changes(plateaus(volts, event).before) === 1 && changes(plateaus(volts, event).after) === 0)
    return 'The light had changed before the event.'
  const found = pulsedStep(volts, event)
  return typeof found === 'string' ? found : { ...found, u: found.jitter }
}

/** Times that the light goes from below a quarter of its range to above three, or back; 0 for noise. */
function changes(volts: Float64Array): number {
  const { range } = levelSpread(volts)
  if (!(range > NOISE_RANGE * noiseOf(volts))) return 0
  const low = volts.reduce((least, v) => Math.min(least, v), Infinity)
  let [count, high] = [0, null as boolean | null]
  for (const v of volts) {
    const share = (v - low) / range
    if (share > 0.25 && share < 0.75) continue
    if (high !== null && high !== share > 0.5) count++
    high = share > 0.5
  }
  return count
}

function steadyLight(volts: Float64Array, event: number): Light | string {
  const n = volts.length
  const parts = plateaus(volts, event)
  const [before, after] = [levelSpread(parts.before), levelSpread(parts.after)]
  const step = after.mean - before.mean
  if (!(Math.abs(step) > before.sd / 2)) return 'No light step follows the event.'
  if (!(Math.abs(step) > STEP_SIGMA * before.sd) || before.range > MODULATED_SHARE * Math.abs(step))
    return 'The light is too noisy for its step, or modulated faster than the samples show: raise the sample rate, or choose levels further apart.'
  /** Share of the step done at a sample. */
  const done = (i: number): number => ((volts[i] as number) - before.mean) / step
  const first = Math.floor(event)
  const half = crossing(done, first, n, 0.5)
  if (half === null) return 'The light had changed before the event, or no step follows it.'
  const tenth = backTo(done, half, first, 0.1)
  const onset = backTo(done, half, first, Math.max((ONSET_SIGMA * before.sd) / Math.abs(step), 1e-6))
  if (tenth === null || onset === null) return 'The light had changed before the event.'
  const slope = slopeAt(done, half, n)
  return { onset, tenth, half, u: slope > 0 ? before.sd / Math.abs(step) / slope : 0, period: null }
}

/** First crossing, in samples, after which the share stays beyond on the mean of the next few samples. */
function crossing(done: (i: number) => number, first: number, n: number, share: number): number | null {
  if (done(first) >= share) return null
  for (let i = first + 1; i < n - 3; i++) {
    if (done(i) < share || done(i - 1) >= share) continue
    if ((done(i) + done(i + 1) + done(i + 2) + done(i + 3)) / 4 < share) continue
    return between(done, i, share)
  }
  return null
}

/** From a later crossing back to the nearest place where the share was not reached yet, in samples. */
function backTo(done: (i: number) => number, from: number, first: number, share: number): number | null {
  for (let i = Math.floor(from); i > first; i--)
    if (done(i - 1) < share && done(i) >= share) return between(done, i, share)
  return done(Math.floor(from)) < share ? from : null
}

function between(done: (i: number) => number, i: number, share: number): number {
  const [a, b] = [done(i - 1), done(i)]
  return i - 1 + (share - a) / (b - a)
}

/** Change of the share per sample about a crossing. */
function slopeAt(done: (i: number) => number, at: number, n: number): number {
  const i = Math.floor(at)
  const [low, high] = [Math.max(0, i - 1), Math.min(n - 1, i + 2)]
  return (done(high) - done(low)) / (high - low)
}
