/** From an input event to the light it causes, in one record that the event itself started. */
import type { RawTrace } from '#shared/domain/capture.ts'

export interface EventLight {
  /** From the event's edge to the last moment within `ONSET_SIGMA` of the level before, s; later with more noise. */
  readonly onsetS: number
  readonly tenthS: number
  /** To half of the step, s: what a latency means unless another point is named. */
  readonly halfS: number
  /** Standard uncertainty of `halfS`, s: noise over slope, and the edge's place between two samples. */
  readonly u: number
}

/** Exit from the level before, in standard deviations of the samples before the event. */
export const ONSET_SIGMA = 3
/** A step under this many of them says nothing reliable of its instant: as for transitions. */
const STEP_SIGMA = 20
/** Light that moves by more than this share of the step before the event is modulated: its own edges look like it. */
const MODULATED_SHARE = 0.4
/** Samples before the event that its level is read from, at least. */
const LEAST_BEFORE = 8

/**
 * @param triggerIndex sample of the event's edge; the samples before it show the level before.
 * @returns times, or why there are none, as a sentence.
 */
export function eventLight(trace: RawTrace, triggerIndex: number): EventLight | string {
  const { samples, sampleRateHz, scaleV, offsetV } = trace
  const n = samples.length
  if (triggerIndex < LEAST_BEFORE || n - triggerIndex < 4 * LEAST_BEFORE) return 'The record is too short.'
  const volts = Float64Array.from(samples as ArrayLike<number>, (sample) => sample * scaleV + offsetV)
  const before = spreadOf(volts.subarray(0, triggerIndex))
  const after = spreadOf(volts.subarray(n - Math.floor((n - triggerIndex) / 4)))
  const step = after.mean - before.mean
  if (!(Math.abs(step) > STEP_SIGMA * before.sd)) return 'No light step follows the event.'
  if (before.range > MODULATED_SHARE * Math.abs(step)) return 'The light is modulated too much to tell its step.'
  /** Share of the step done at a sample. */
  const done = (i: number): number => ((volts[i] as number) - before.mean) / step
  const half = crossing(done, triggerIndex, n, 0.5)
  if (half === null) return 'The light had changed before the event, or no step follows it.'
  const tenth = backTo(done, half, triggerIndex, 0.1)
  const onset = backTo(done, half, triggerIndex, Math.max((ONSET_SIGMA * before.sd) / Math.abs(step), 1e-6))
  if (tenth === null || onset === null) return 'The light had changed before the event.'
  const dt = 1 / sampleRateHz
  const slope = slopeAt(done, half, n)
  const timing = slope > 0 ? before.sd / Math.abs(step) / slope : 0
  const time = (at: number): number => (at - triggerIndex) * dt
  return {
    onsetS: time(onset),
    tenthS: time(tenth),
    halfS: time(half),
    // The edge lies anywhere between two samples: a rectangle one sample wide.
    u: dt * Math.hypot(timing, 1 / Math.sqrt(12)),
  }
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

function spreadOf(volts: Float64Array): { mean: number; sd: number; range: number } {
  let [sum, low, high] = [0, Infinity, -Infinity]
  for (const v of volts) {
    sum += v
    low = Math.min(low, v)
    high = Math.max(high, v)
  }
  const mean = sum / volts.length
  let squares = 0
  for (const v of volts) squares += (v - mean) ** 2
  return { mean, sd: Math.sqrt(squares / Math.max(1, volts.length - 1)), range: high - low }
}
