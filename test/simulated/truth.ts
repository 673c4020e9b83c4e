/**
 * What a transition really is: the noise-free light of the model and its quantities, found by bisection on the closed
 * form. Shares no code with the program's own measuring, so that tests can hold one against the other.
 */
import type { Backlight, PanelId, SimSetting } from '#shared/domain/rig.ts'
import { lightAt } from './panel-at.ts'
import { createDisplay, showLevel, type Display } from '#main/rig/simulated/panel/display.ts'
import { luminanceOf } from '#main/rig/simulated/panel/panels.ts'
import { poleOf, seenLight } from '#main/rig/simulated/optics/detector.ts'

export interface TruthInput {
  readonly panel: PanelId
  readonly setting: SimSetting
  readonly refreshHz: number
  readonly from: number
  readonly to: number
  readonly backlight?: Backlight
  readonly pwmHz?: number
  readonly brightness?: number
  readonly glow?: number
  /** Row the detector looks at, 0–1; the middle by default. */
  readonly row?: number
}

export interface Truth {
  readonly display: Display
  /** Time 0 is when the row's drive changes. */
  readonly framePeriodS: number
  readonly start: number
  readonly end: number
  /** Relative luminance at a time, backlight taken as steady. */
  light(timeS: number): number
  /** Relative luminance with its backlight, through a detector (Hz) or without one, `count` samples. */
  waveform(startS: number, stepS: number, count: number, detectorHz?: number | null): Float64Array
}

export function truthOf(input: TruthInput): Truth {
  const row = input.row ?? 0.5
  const atRest = createDisplay({
    panel: input.panel,
    backlight: input.backlight ?? 'steady',
    pwmHz: input.pwmHz ?? 240,
    brightness: input.brightness ?? 0.6,
    glow: input.glow ?? 0,
    refreshHz: input.refreshHz,
    setting: input.setting,
    row,
    level: input.from,
    startS: 0,
    pwmPhase: 0,
  })
  const { display } = showLevel(atRest, input.to, 0.5 / input.refreshHz)
  const zero = display.segments[1]?.startS ?? 0
  return {
    display,
    framePeriodS: 1 / input.refreshHz,
    start: luminanceOf(display.panel, input.from),
    end: luminanceOf(display.panel, input.to),
    light: (timeS) => lightAt(display.segments, zero + timeS),
    waveform: (startS, stepS, count, detectorHz = null) =>
      seenLight(display, detectorHz === null ? [] : [poleOf(detectorHz)], zero + startS, stepS, count),
  }
}

export interface TruthNumbers {
  /** Between p and 100 − p percent of the step, outward from the 50 % crossing, s. */
  readonly durationS: number
  /** Furthest excursion past the target, percent of the step, and when, s from time 0. */
  readonly overshootPct: number
  readonly overshootAtS: number
  /** Leaving the start band, first and last entry into the end band, s from time 0. */
  readonly onsetS: number
  readonly arrivalAtS: number
  readonly settledAtS: number
  /** Share of the step done one frame after onset, percent. */
  readonly firstFramePct: number
}

/** `percent` sets the reference levels, `bandPct` the half width of both bands, percent of the step. */
export function truthNumbers(truth: Truth, percent = 10, bandPct = 3): TruthNumbers {
  const step = truth.end - truth.start
  const done = (t: number): number => (truth.light(t) - truth.start) / step
  const knots = knotsOf(truth)
  const mid = firstCrossing(done, knots, 0, 0.5)
  const low = lastCrossing(done, knots, mid, percent / 100)
  const high = firstCrossing(done, knots, mid, 1 - percent / 100)
  const band = bandPct / 100
  const onsetS = firstCrossing(done, knots, 0, band)
  const arrivalAtS = firstCrossing(done, knots, 0, 1 - band)
  const peak = highest(done, knots)
  return {
    durationS: high - low,
    overshootPct: Math.max(0, 100 * (peak.value - 1)),
    overshootAtS: peak.timeS,
    onsetS,
    arrivalAtS,
    settledAtS: lastEntry(done, knots, band),
    firstFramePct: 100 * done(onsetS + truth.framePeriodS),
  }
}

/**
 * Share of the old level left in the first strobe pulse that begins after the change, percent, pulses by their energy.
 * Midpoint sums over the closed form; NaN when the backlight does not pulse.
 */
export function truthFirstPulsePct(truth: Truth): number {
  const { display } = truth
  const zero = display.segments[1]?.startS ?? 0
  const gate = display.gates[0]?.gate
  if (!gate || display.backlight !== 'strobe') return Number.NaN
  const opensS = gate.startS + Math.ceil((zero - gate.startS) / gate.periodS) * gate.periodS - zero
  const parts = 20_000
  let energy = 0
  for (let i = 0; i < parts; i++) energy += truth.light(opensS + ((i + 0.5) / parts) * gate.widthS) / parts
  return (100 * (energy - truth.end)) / (truth.start - truth.end)
}

/** Times dense enough that between two of them the light is monotone but for one turning point. */
function knotsOf(truth: Truth): number[] {
  const { segments } = truth.display
  const zero = segments[1]?.startS ?? 0
  const knots: number[] = [0]
  segments.slice(1).forEach((segment, i) => {
    const from = segment.startS - zero
    const end = (segments[i + 2]?.startS ?? segment.startS + 40 * segment.tau1) - zero
    const step = segment.tau2 / 20
    const count = Math.max(8, Math.ceil((end - from) / step))
    for (let k = 1; k <= count; k++) knots.push(from + ((end - from) * k) / count)
  })
  return knots
}

function bisect(done: (t: number) => number, from: number, to: number, level: number): number {
  let a = from
  let b = to
  const rising = done(b) > done(a)
  for (let i = 0; i < 80; i++) {
    const mid = (a + b) / 2
    if (done(mid) < level === rising) a = mid
    else b = mid
  }
  return (a + b) / 2
}

function firstCrossing(done: (t: number) => number, knots: readonly number[], after: number, level: number): number {
  for (let i = 1; i < knots.length; i++) {
    const a = Math.max(after, knots[i - 1] as number)
    const b = knots[i] as number
    if (b > after && done(a) < level && done(b) >= level) return bisect(done, a, b, level)
  }
  return Number.NaN
}

function lastCrossing(done: (t: number) => number, knots: readonly number[], before: number, level: number): number {
  for (let i = knots.length - 1; i > 0; i--) {
    const a = knots[i - 1] as number
    const b = Math.min(before, knots[i] as number)
    if (a < before && done(a) < level && done(b) >= level) return bisect(done, a, b, level)
  }
  return Number.NaN
}

function lastEntry(done: (t: number) => number, knots: readonly number[], band: number): number {
  for (let i = knots.length - 1; i > 0; i--) {
    const outside = done(knots[i - 1] as number)
    if (Math.abs(outside - 1) > band)
      return bisect(done, knots[i - 1] as number, knots[i] as number, outside > 1 ? 1 + band : 1 - band)
  }
  return 0
}

function highest(done: (t: number) => number, knots: readonly number[]): { timeS: number; value: number } {
  let best = 0
  knots.forEach((t, i) => {
    if (done(t) > done(knots[best] as number)) best = i
  })
  let a = knots[Math.max(0, best - 1)] as number
  let b = knots[Math.min(knots.length - 1, best + 1)] as number
  for (let i = 0; i < 100; i++) {
    const left = a + (b - a) / 3
    const right = b - (b - a) / 3
    if (done(left) < done(right)) a = left
    else b = right
  }
  return { timeS: (a + b) / 2, value: done((a + b) / 2) }
}
