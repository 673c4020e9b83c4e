import { meanBetween, type Series } from '../../signal/series.ts'
import type { Analysis } from '../analysis.ts'
import { ladderVolts } from '../ladder-curve.ts'
import { windowDrift } from '../levels.ts'
import type { Times } from '../measure-times.ts'
import { spanOf, type Doubts } from './doubts.ts'
import { LIMITS } from './limits.ts'
import { quietWindows } from './quiet.ts'
import { findTail } from './tail.ts'
import { ms, pct, volts } from './words.ts'

/** Ripple period left in the series, samples; 0 without. */
function periodLeft(analysis: Analysis): number {
  const { strobe, plateaus } = analysis
  if (strobe) return 1 / strobe.frequency
  return plateaus.ripple && rippleLeft(analysis) > 0 ? 1 / plateaus.ripple.fundamental : 0
}

/** Plateaus that move, and an end of the dwell that has not reached its level. `series` is the one measured, without hum. */
export function flagPlateaus(doubts: Doubts, analysis: Analysis, times: Times, series: Series): void {
  const period = periodLeft(analysis)
  flagWindowDrift(doubts, analysis, series, period)
  flagTail(doubts, analysis, times, series, period)
}

/** Peak-to-peak ripple that conditioning has left in the trace, V. */
function rippleLeft(analysis: Analysis): number {
  const { kind } = analysis.input.recipe.condition
  const { ripple } = analysis.plateaus
  return ripple && (kind === 'none' || kind === 'low-pass') ? ripple.peakToPeakV : 0
}

/** Standard uncertainty of the change that noise feigns through a window of n samples: √12 σ/√n. */
export function uDrift(analysis: Analysis, n: number): number {
  const { noise } = analysis
  return noise.sigmaV * Math.sqrt((12 * noise.correlation) / n)
}

interface Slope {
  /** Drift through the whole record at the window's slope, V, and its standard uncertainty. */
  readonly driftV: number
  readonly uV: number
}

/** Share of the dwell at its end that even drift is read from, or this many 10–90 % durations after the edge on. */
const LATE = 0.3
const SETTLED = 6
/** Drift that exceeds noise by less than this is not believed. */
const NOISE_REACH = 5
/** Part of the drift by which the parts of the record may differ. */
const AGREEMENT = 0.5

/** Drift through the record at the slope of a window; null where the window is too short to tell. */
function slopeOf(analysis: Analysis, series: Series, period: number, first: number, end: number): Slope | null {
  const { levels, noise } = analysis
  const length = end - first
  if (length < 16 || length < 2 * period || length < 4 * noise.correlation) return null
  const factor = series.n / length
  const ripple = (rippleLeft(analysis) * Math.min(1, period / length)) / 10
  return {
    driftV: windowDrift(series, [first, end], period) * factor,
    uV:
      Math.hypot(
        Math.max(uDrift(analysis, length), scatterOf(series, first, end, period)),
        ripple,
        0.001 * levels.stepV,
      ) * factor,
  }
}

/** Blocks whose means are held against a straight line, and fewest of them. */
const BLOCKS = 16
const FEWEST_BLOCKS = 6

/**
 * Standard uncertainty of the change through a window by what its parts (whole ripple periods) differ from a straight
 * line: a mean over one period leaves a beat where samples and pulses fall differently, which no noise tells of.
 * @returns 0 where the window is too short to tell
 */
function scatterOf(series: Series, first: number, end: number, period: number): number {
  const least = (end - 1 - first) / BLOCKS
  const block = period > 0 ? Math.ceil(least / period) * period : least
  const count = Math.floor((end - 1 - first) / block)
  if (count < FEWEST_BLOCKS) return 0
  const middle = (count - 1) / 2
  let sum = 0
  let squares = 0
  let along = 0
  let spread = 0
  // About the first block's mean, so that nothing is lost where the light is much more than its changes.
  const origin = meanBetween(series, first, first + block)
  for (let i = 0; i < count; i++) {
    const y = meanBetween(series, first + i * block, first + (i + 1) * block) - origin
    sum += y
    squares += y * y
    along += (i - middle) * y
    spread += (i - middle) ** 2
  }
  const residue = Math.max(0, squares - (sum * sum) / count - (along * along) / spread)
  return Math.sqrt((12 * residue) / ((count - 2) * count))
}

/**
 * Even drift of the whole record: before the step and after it has settled (and in both halves of that) the signal moves
 * at one and the same speed. A settling tail slows down instead and does not count.
 */
export function flagEvenDrift(doubts: Doubts, analysis: Analysis, times: Times, series: Series): boolean {
  const period = periodLeft(analysis)
  const { levels } = analysis
  const n = series.n
  const quiet = quietWindows(analysis, times, LATE, SETTLED)
  const slope = (first: number, end: number): Slope | null => slopeOf(analysis, series, period, first, end)
  const before = slope(...quiet.before)
  const late = slope(...quiet.after)
  if (before === null || late === null) return false
  const middle = (quiet.after[0] + quiet.after[1]) >> 1
  const halves = [slope(quiet.after[0], middle), slope(middle, quiet.after[1])]
  const weight = 1 / before.uV ** 2 + 1 / late.uV ** 2
  const driftV = (before.driftV / before.uV ** 2 + late.driftV / late.uV ** 2) / weight
  const uV = 1 / Math.sqrt(weight)
  const step = Math.abs(levels.stepV)
  const value = (100 * Math.abs(driftV)) / step
  // Twice its own uncertainty above the limit, so that noise does not lift what is allowed over it.
  if (value - (200 * uV) / step <= LIMITS.recordDriftPct || Math.abs(driftV) <= NOISE_REACH * uV) return false
  for (const part of [before, late, ...halves]) {
    if (part === null) continue
    if (Math.abs(part.driftV - driftV) > Math.max(4 * part.uV, AGREEMENT * Math.abs(driftV))) return false
  }
  doubts.raise({
    id: 'plateau-drift',
    evidence: `The signal drifts by ${volts(driftV)} through the record, ${pct(value)} of the step, evenly before and after the step.`,
    value,
    limit: LIMITS.recordDriftPct,
    unit: '%',
    span: spanOf(analysis, 0, n - 1),
  })
  return true
}

function flagWindowDrift(doubts: Doubts, analysis: Analysis, series: Series, period: number): void {
  const { levels, conditioned } = analysis
  const averaged = conditioned.meanWidth > 1 ? conditioned.meanWidth : 0
  const step = Math.abs(levels.stepV)
  for (const [name, window] of [
    ['before', levels.beforeWindow],
    ['after', levels.afterWindow],
  ] as const) {
    // In whole periods of what was averaged away too: a mean a little off its period leaves a beat.
    const drift = windowDrift(series, window, period > 0 ? period : averaged)
    const u = uDrift(analysis, window[1] - window[0])
    const value = (100 * Math.abs(drift)) / step
    if (value <= LIMITS.driftPct || Math.abs(drift) <= 6 * u) continue
    doubts.raise({
      id: 'plateau-drift',
      evidence: `The plateau ${name} the step drifts by ${volts(drift)}, ${pct(value)} of the step.`,
      value,
      limit: LIMITS.driftPct,
      unit: '%',
      span: spanOf(analysis, window[0], window[1] - 1),
    })
  }
}

/** Plateau not reached: the tail still creeps towards a level it has not got to, or the end band was entered late. */
function flagTail(doubts: Doubts, analysis: Analysis, times: Times, series: Series, period: number): void {
  const { levels, clock, noise, conditioned } = analysis
  const [first, end] = levels.afterWindow
  const span = spanOf(analysis, first, end - 1)
  const step = Math.abs(levels.stepV)
  const tail = findTail(series, noise, clock.mid, clock.scale, {
    period,
    rippleV: rippleLeft(analysis),
    margin: Math.ceil(conditioned.meanWidth / 2),
  })
  const missingV = tail === null ? 0 : tail.finalV - levels.afterV
  const value = (100 * Math.abs(missingV)) / step
  const creeps = tail !== null && value > LIMITS.tailPct && Math.abs(missingV) > 6 * tail.uV
  if (creeps && !(tail.isLine && drifts(analysis, times, series, period, tail.slopeV))) {
    doubts.raise({
      id: 'plateau-not-reached',
      evidence: `The end of the dwell still moves; it leads ${volts(missingV)} (${pct(value)} of the step) beyond the level taken.`,
      value,
      limit: LIMITS.tailPct,
      unit: '%',
      span,
    })
    return
  }
  if (flagShort(doubts, analysis, series, period)) return
  // Hum leaves the band again and again.
  if (doubts.has('hum')) return
  if (times.settling && times.settling.at > first && end >= series.n - 1) {
    doubts.raise({
      id: 'plateau-not-reached',
      evidence: `The signal settles only inside the window its end level is taken from.`,
      value: (times.settling.at + analysis.record.offset) * analysis.dt,
      limit: (first + analysis.record.offset) * analysis.dt,
      unit: 's',
      span,
    })
  }
}

/**
 * Whether the slope of the late dwell (V per sample) is there before the step too. A tail is none of that: it begins
 * with the step and slows down.
 */
function drifts(analysis: Analysis, times: Times, series: Series, period: number, slopeV: number): boolean {
  const before = slopeOf(analysis, series, period, ...quietWindows(analysis, times, LATE).before)
  if (before === null) return false
  const lateV = slopeV * series.n
  return Math.abs(before.driftV - lateV) <= Math.max(4 * before.uV, AGREEMENT * Math.abs(lateV))
}

/** Refresh periods after which overdrive is over and a level has been driven as itself for a frame. */
const FRAMES = 2
/** Distance of the end level from the ladder, % of the step, from which a short or moving end is believed to be early. */
const SHORT_PCT = 3

/**
 * The end level is not the ladder's, and either the record ends within two refresh periods of the edge (overdrive shows
 * another level for the first of them) or its end moves towards the ladder's level.
 */
function flagShort(doubts: Doubts, analysis: Analysis, series: Series, period: number): boolean {
  const { levels, input, clock, frame, dt } = analysis
  const { ladder, to, recipe } = input
  const expected = ladder && to !== null && recipe.levels.kind !== 'ladder' ? ladderVolts(ladder, to) : null
  if (expected === null) return false
  const awayV = expected - levels.afterV
  const value = (100 * Math.abs(awayV)) / Math.abs(levels.stepV)
  const window = levels.afterWindow
  const u = uDrift(analysis, window[1] - window[0])
  // By noise alone: that the level moves through its window is what is looked for, no doubt about where it is.
  if (value <= SHORT_PCT || Math.abs(awayV) <= (4 * u) / Math.sqrt(12)) return false
  const drift = windowDrift(series, window, period)
  const moves = drift * awayV > 0 && Math.abs(drift) > Math.max(4 * u, 0.1 * Math.abs(awayV))
  const dwell = series.n - clock.mid
  if (!moves && (frame === null || dwell > FRAMES * frame)) return false
  doubts.raise({
    id: 'plateau-not-reached',
    evidence:
      `The level after the step is ${volts(Math.abs(awayV))} (${pct(value)} of the step) away from the ladder’s, and ` +
      (moves
        ? 'still moves towards it.'
        : `the record ends ${ms(dwell * dt)} after the edge, within ${FRAMES} refresh periods.`),
    value,
    limit: SHORT_PCT,
    unit: '%',
    span: spanOf(analysis, window[0], window[1] - 1),
  })
  return true
}
