import type { Series } from '../../signal/series.ts'
import type { Analysis } from '../analysis.ts'
import { ladderVolts } from '../ladder-curve.ts'
import { windowDrift } from '../levels.ts'
import type { Times } from '../measure-times.ts'
import { sigmaOfMean } from '../noise-model.ts'
import { findTail, type Tail } from '../tail.ts'
import { chanceOf, LIMITS, reachOf } from './budget.ts'
import { spanOf, type CollectedFlags } from './collected.ts'
import { driftReach, periodLeft, rippleLeft, slopeOf, uDrift } from './plateaus.ts'
import { quietWindows } from './quiet.ts'
import { ms, pct, volts } from './words.ts'

/** Part of the dwell that is looked at for a drift which is there before the step too. */
const LATE = 0.3
/** Part of the dwell at its end that the level is read from by default, which a longer dwell would leave settled. */
const READ = 0.2

/**
 * Plateau not reached: the end of the dwell still leads to a level it has not got to, by as much as the recipe's band
 * (or 1 % of the step where that is less); the level is short of the ladder's; or the end band was entered late.
 */
export function flagNotReached(flags: CollectedFlags, analysis: Analysis, times: Times, series: Series): void {
  const period = periodLeft(analysis)
  const { levels, clock, noise, conditioned } = analysis
  const [first, end] = levels.afterWindow
  const span = spanOf(analysis, first, end - 1)
  const tail = findTail(
    series,
    noise,
    clock.mid,
    clock.scale,
    { period, rippleV: rippleLeft(analysis), margin: Math.ceil(conditioned.meanWidth / 2) },
    reachOf(chanceOf('tail'), noise.dof),
  )
  const limit = limitPct(analysis)
  if (tail !== null && leadsBeyond(analysis, tail, limit) && !isDrift(analysis, times, series, period, tail)) {
    const shortV = tail.finalV - levels.afterV
    const value = (100 * Math.abs(shortV)) / Math.abs(levels.stepV)
    const dwell = dwellFor(analysis, tail, limit)
    flags.raise({
      id: 'plateau-not-reached',
      evidence:
        `The end of the dwell still moves; it leads ${tail.farV === null ? 'at least ' : ''}${volts(shortV)} ` +
        `(${pct(value)} of the step) beyond the level taken. ` +
        `A dwell of ${tail.farV === null ? 'more than ' : ''}${ms(dwell * analysis.dt)} would do.`,
      value,
      limit,
      unit: '%',
      span,
    })
    return
  }
  if (flagShort(flags, analysis, series, period)) return
  // Hum leaves the band again and again.
  if (flags.has('hum')) return
  if (times.settling && times.settling.at > first && end >= series.n - 1) {
    flags.raise({
      id: 'plateau-not-reached',
      evidence: `The signal settles only inside the window its end level is taken from.`,
      value: (times.settling.at + analysis.record.offset) * analysis.dt,
      limit: (first + analysis.record.offset) * analysis.dt,
      unit: 's',
      span,
    })
  }
}

/** Distance from the end level that counts, % of the step. */
function limitPct({ thresholds, levels }: Analysis): number {
  const band = thresholds.endBandV
  const half = band === null ? Infinity : Math.min(...band.map((v) => Math.abs(v - levels.afterV)))
  return Math.min(LIMITS.tailPct, (100 * half) / Math.abs(levels.stepV))
}

/** Whether even the shortest time constant that fits leads beyond the level taken by more than counts. */
function leadsBeyond({ levels }: Analysis, { finalV, nearV }: Tail, limit: number): boolean {
  const of = (v: number): number => (100 * Math.abs(v - levels.afterV)) / Math.abs(levels.stepV)
  return of(finalV) > limit && (nearV - levels.afterV) * (finalV - levels.afterV) > 0
}

/** Dwell, samples, after which what is left where the level is read is no more than counts. */
function dwellFor({ clock, levels }: Analysis, { leftV, tau, first }: Tail, limit: number): number {
  const left = (100 * Math.abs(leftV)) / Math.abs(levels.stepV) / limit
  return (first - clock.mid + tau * Math.log(Math.max(1, left))) / (1 - READ)
}

/**
 * Whether the slope of the late dwell is there before the step too. A tail is none of that: it begins with the step and
 * slows down.
 */
function isDrift(analysis: Analysis, times: Times, series: Series, period: number, tail: Tail): boolean {
  if (!tail.isLine) return false
  const before = slopeOf(analysis, series, period, ...quietWindows(analysis, times, LATE).before)
  if (before === null) return false
  const lateV = tail.slopeV * series.n
  return (
    Math.abs(before.driftV - lateV) <=
    Math.max(driftReach(analysis) * before.uV, LIMITS.driftAgreement * Math.abs(lateV))
  )
}

/**
 * The end level is not the ladder's, and either the record ends within two refresh periods of the edge (overdrive shows
 * another level for the first of them) or its end moves towards the ladder's level.
 */
function flagShort(flags: CollectedFlags, analysis: Analysis, series: Series, period: number): boolean {
  const { levels, input, clock, frame, dt, noise } = analysis
  const { ladder, to, recipe } = input
  const expected = ladder && to !== null && recipe.levels.kind !== 'ladder' ? ladderVolts(ladder, to) : null
  if (expected === null) return false
  const awayV = expected - levels.afterV
  const value = (100 * Math.abs(awayV)) / Math.abs(levels.stepV)
  const window = levels.afterWindow
  const width = window[1] - window[0]
  // By noise alone: that the level moves through its window is what is looked for, no doubt about where it is.
  if (value <= LIMITS.ladderPct || Math.abs(awayV) <= driftReach(analysis) * sigmaOfMean(noise, width)) return false
  const drift = windowDrift(series, window, period)
  const moves =
    drift * awayV > 0 &&
    Math.abs(drift) > Math.max(driftReach(analysis) * uDrift(analysis, width, period), 0.1 * Math.abs(awayV))
  const dwell = series.n - clock.mid
  if (!moves && (frame === null || dwell > LIMITS.frames * frame)) return false
  flags.raise({
    id: 'plateau-not-reached',
    evidence:
      `The level after the step is ${volts(Math.abs(awayV))} (${pct(value)} of the step) away from the ladder’s, and ` +
      (moves
        ? 'still moves towards it.'
        : `the record ends ${ms(dwell * dt)} after the edge, within ${LIMITS.frames} refresh periods.`),
    value,
    limit: LIMITS.ladderPct,
    unit: '%',
    span: spanOf(analysis, window[0], window[1] - 1),
  })
  return true
}
