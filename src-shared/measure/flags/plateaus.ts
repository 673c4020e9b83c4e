import type { Series } from '../../signal/series.ts'
import type { Analysis } from '../analysis.ts'
import { windowDrift } from '../levels.ts'
import type { Times } from '../measure-times.ts'
import { uOfHalves } from '../tail.ts'
import { chanceOf, LIMITS, reachOf } from './budget.ts'
import { spanOf, type CollectedFlags } from './collected.ts'
import { quietWindows } from './quiet.ts'
import { wanderOf, type Wander } from './wander.ts'
import { pct, volts } from './words.ts'

/** Even drift, either plateau's own, what moves before the step, and a short end: five tests for drift in a record. */
const CHANCE = chanceOf('drift', 5)
/** Chance that noise makes the parts of a record that drifts evenly differ by more than is allowed. */
const APART_CHANCE = 1e-4

/** Ripple period left in the series, samples; 0 without. */
export function periodLeft(analysis: Analysis): number {
  const { strobe, plateaus } = analysis
  if (strobe) return 1 / strobe.frequency
  return plateaus.ripple && rippleLeft(analysis) > 0 ? 1 / plateaus.ripple.fundamental : 0
}

/** Peak-to-peak ripple that conditioning has left in the trace, V. */
export function rippleLeft(analysis: Analysis): number {
  const { kind } = analysis.input.recipe.condition
  const { ripple } = analysis.plateaus
  return ripple && (kind === 'none' || kind === 'low-pass') ? ripple.peakToPeakV : 0
}

/**
 * Standard uncertainty of the change that noise feigns through a window of n samples: that of twice the difference of
 * its halves, as `windowDrift` reads it where there is a ripple period, and √(12/16) of it for a least-squares slope
 * (12 σ²/n against 16 σ²/n).
 */
export function uDrift({ noise }: Pick<Analysis, 'noise'>, n: number, period: number): number {
  return (period > 0 ? 2 : Math.sqrt(3)) * uOfHalves(noise, n / 2)
}

/** Standard uncertainties that a drift exceeds. */
export const driftReach = ({ noise }: Analysis): number => reachOf(CHANCE, noise.dof)

/** What 1/f noise may feign, as a standard uncertainty to go with `driftReach`: its own has fewer degrees of freedom. */
const feigned = (analysis: Analysis, wander: Wander | null): number =>
  wander === null ? 0 : (wander.trendV * reachOf(CHANCE, wander.dof)) / driftReach(analysis)

export interface Slope {
  /** Drift through the whole record at the window's slope, V, and its standard uncertainty by noise that forgets. */
  readonly driftV: number
  readonly uV: number
  /** The same with noise that wanders. */
  readonly wideV: number
}

/** Share of the dwell at its end that even drift is read from, or this many 10–90 % durations after the edge on. */
const LATE = 0.3
const SETTLED = 6

/** Drift through the record at the slope of a window; null where the window is too short to tell. */
export function slopeOf(analysis: Analysis, series: Series, period: number, first: number, end: number): Slope | null {
  const { levels, conditioned } = analysis
  const length = end - first
  if (length < 16 || length < 2 * period || length < 4 * conditioned.meanWidth) return null
  const factor = series.n / length
  const ripple = (rippleLeft(analysis) * Math.min(1, period / length)) / 10
  const wander = wanderOf(series, first, end, period > 0 ? period : meanOver(analysis))
  const noise = Math.max(uDrift(analysis, length, period), wander?.scatterV ?? 0)
  const wide = Math.max(noise, feigned(analysis, wander))
  const of = (u: number): number => Math.hypot(u, ripple, 0.001 * levels.stepV) * factor
  return { driftV: windowDrift(series, [first, end], period) * factor, uV: of(noise), wideV: of(wide) }
}

/** Samples that conditioning averages over, 0 where it does not: a mean a little off its period leaves a beat. */
export const meanOver = ({ conditioned }: Analysis): number => (conditioned.meanWidth > 1 ? conditioned.meanWidth : 0)

/**
 * Even drift of the whole record: before the step and after it has settled (and in both halves of that) the signal moves
 * at one and the same speed. A settling tail slows down instead and does not count, nor does noise that wanders.
 * @returns null where there is none that noise would not explain
 */
export function evenDrift(analysis: Analysis, times: Times, series: Series): Slope | null {
  const period = periodLeft(analysis)
  const quiet = quietWindows(analysis, times, LATE, SETTLED)
  const slope = (first: number, end: number): Slope | null => slopeOf(analysis, series, period, first, end)
  const before = slope(...quiet.before)
  const late = slope(...quiet.after)
  if (before === null || late === null) return null
  const middle = (quiet.after[0] + quiet.after[1]) >> 1
  const halves = [slope(quiet.after[0], middle), slope(middle, quiet.after[1])]
  const weight = 1 / before.wideV ** 2 + 1 / late.wideV ** 2
  const driftV = (before.driftV / before.wideV ** 2 + late.driftV / late.wideV ** 2) / weight
  const uV = 1 / Math.sqrt(weight)
  if (Math.abs(driftV) <= driftReach(analysis) * uV) return null
  const apart = reachOf(APART_CHANCE)
  for (const part of [before, late, ...halves]) {
    if (part === null) continue
    if (Math.abs(part.driftV - driftV) > Math.max(apart * part.uV, LIMITS.driftAgreement * Math.abs(driftV)))
      return null
  }
  return { driftV, uV, wideV: uV }
}

/** Even drift in % of the step, less twice its own uncertainty, so that noise does not lift it over a limit. */
export function driftPct({ levels }: Analysis, drift: Slope | null): number {
  return drift === null ? 0 : (100 * (Math.abs(drift.driftV) - 2 * drift.uV)) / Math.abs(levels.stepV)
}

/** An even drift that is too much. */
export function flagEvenDrift(flags: CollectedFlags, analysis: Analysis, drift: Slope | null): boolean {
  if (drift === null) return false
  const { driftV } = drift
  const value = (100 * Math.abs(driftV)) / Math.abs(analysis.levels.stepV)
  if (value <= LIMITS.recordDriftPct) return false
  flags.raise({
    id: 'plateau-drift',
    evidence: `The signal drifts by ${volts(driftV)} through the record, ${pct(value)} of the step, evenly before and after the step.`,
    value,
    limit: LIMITS.recordDriftPct,
    unit: '%',
    span: spanOf(analysis, 0, analysis.clock.series.n - 1),
  })
  return true
}

/** A plateau that moves while its level is read. `series` is the one measured, without hum. */
export function flagWindowDrift(flags: CollectedFlags, analysis: Analysis, series: Series): void {
  const period = periodLeft(analysis)
  const { levels } = analysis
  const step = Math.abs(levels.stepV)
  for (const [name, window] of [
    ['before', levels.beforeWindow],
    ['after', levels.afterWindow],
  ] as const) {
    // In whole periods of what was averaged away too.
    const whole = period > 0 ? period : meanOver(analysis)
    const drift = windowDrift(series, window, whole)
    const u = Math.max(
      uDrift(analysis, window[1] - window[0], whole),
      feigned(analysis, wanderOf(series, ...window, whole)),
    )
    const value = (100 * Math.abs(drift)) / step
    if (value <= LIMITS.driftPct || Math.abs(drift) <= driftReach(analysis) * u) continue
    flags.raise({
      id: 'plateau-drift',
      evidence: `The plateau ${name} the step drifts by ${volts(drift)}, ${pct(value)} of the step.`,
      value,
      limit: LIMITS.driftPct,
      unit: '%',
      span: spanOf(analysis, window[0], window[1] - 1),
    })
  }
}
