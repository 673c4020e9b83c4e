import type { Series } from '../../signal/series.ts'
import type { Analysis } from '../analysis.ts'
import { ladderVolts } from '../ladder-curve.ts'
import { windowDrift } from '../levels.ts'
import type { Times } from '../measure-times.ts'
import { FEWEST_BEFORE } from '../pulses.ts'
import { spanOf, type CollectedFlags } from './collected.ts'
import { LIMITS } from './budget.ts'
import { findPause, findPulsePause, type Pause } from './pause.ts'
import { driftReach, uDrift } from './plateaus.ts'
import { pct } from './words.ts'

/** The step pauses on its way, or had begun before the record: it came in two parts. */
export function flagPause(flags: CollectedFlags, analysis: Analysis, times: Times, series: Series): void {
  const pause = pauseOf(analysis, times, series)
  if (pause !== null) {
    flags.raise({
      id: 'double-step',
      evidence: `At ${pct(pause.donePct)} of the step the signal slows to ${pct(pause.slowPct)} of the speed it has before and after: it came in two steps.`,
      value: pause.slowPct,
      limit: pause.limitPct,
      unit: '%',
      span: spanOf(analysis, pause.first, pause.last),
    })
  } else if (!analysis.pulses) flagBegun(flags, analysis, series)
}

function pauseOf(analysis: Analysis, times: Times, series: Series): Pause | null {
  const { clock, levels, pulses, rawNoiseV } = analysis
  if (pulses) {
    if (pulses.beforeCount < FEWEST_BEFORE) return null
    return findPulsePause(pulses, (rawNoiseV ?? 0) / Math.sqrt(pulses.frequency))
  }
  const period = periodOf(analysis)
  const pause = findPause(
    series,
    analysis.noise,
    times.low ?? clock.mid - clock.scale / 2,
    clock.scale,
    levels.beforeV,
    levels.stepV,
    period,
  )
  if (pause !== null || !movesBefore(analysis, series)) return pause
  // The first of two steps may lie in what was taken for the level before: from the record's start on, from the ladder's level.
  const startV = startOf(analysis) ?? levels.beforeV
  return findPause(series, analysis.noise, 0, clock.scale, startV, levels.afterV - startV, period)
}

/** A ripple that is slower than the step by this changes its speed by less than a pause does. */
const LITTLE = 0.1

/** Width of means that hold whole ripple periods, samples: that of the recipe's, or one period; 0 without ripple. */
function meanWidth({ conditioned, plateaus }: Analysis): number {
  if (conditioned.meanWidth > 1) return conditioned.meanWidth
  return plateaus.ripple === null ? 0 : 1 / plateaus.ripple.fundamental
}

/** Least width of the means that a speed is the difference of, samples; 0 where the ripple does not matter. */
function periodOf(analysis: Analysis): number {
  const { clock, conditioned, levels, plateaus } = analysis
  const { ripple } = plateaus
  if (conditioned.meanWidth > 1 || ripple === null) return meanWidth(analysis)
  const speed = Math.PI * ripple.peakToPeakV * ripple.fundamental
  return speed < LITTLE * ((0.8 * Math.abs(levels.stepV)) / clock.scale) ? 0 : meanWidth(analysis)
}

/** Level that the ladder gives for the start; null without one. */
function startOf({ input }: Analysis): number | null {
  return input.ladder && input.from !== null ? ladderVolts(input.ladder, input.from) : null
}

/** Whether the window before the step moves towards the step's end: something has begun before. */
function movesBefore(analysis: Analysis, series: Series): boolean {
  const { levels } = analysis
  const window = levels.beforeWindow
  const period = meanWidth(analysis)
  const drift = windowDrift(series, window, period) * levels.sign
  const u = uDrift(analysis, window[1] - window[0], period)
  return drift > driftReach(analysis) * u && drift > (LIMITS.driftPct / 100) * Math.abs(levels.stepV)
}

/**
 * A step whose first part lies before the record (a level trigger fires at the second): the record begins at least
 * 15 % of the way from the ladder's level, and still moves on, but slower than the step itself. Another level shown at
 * rest does not move; the middle of one single step does not get faster.
 */
function flagBegun(flags: CollectedFlags, analysis: Analysis, series: Series): void {
  const { clock, levels } = analysis
  const startV = startOf(analysis)
  if (startV === null || analysis.input.recipe.levels.kind === 'ladder' || !movesBefore(analysis, series)) return
  const done = (levels.beforeV - startV) / (levels.afterV - startV)
  if (!(done > LIMITS.pauseLeast && done < 1 - LIMITS.pauseLeast)) return
  const [first, end] = levels.beforeWindow
  const slow = (windowDrift(series, levels.beforeWindow, 0) * levels.sign) / (end - first)
  const slowPct = (100 * slow) / ((0.8 * Math.abs(levels.stepV)) / clock.scale)
  if (slowPct >= 100 * LIMITS.pauseShare) return
  flags.raise({
    id: 'double-step',
    evidence: `The record begins ${pct(100 * done)} of the way from the ladder’s level and still moves on, at ${pct(slowPct)} of the speed of the step that follows: it came in two steps, the first of them before the record.`,
    value: slowPct,
    limit: 100 * LIMITS.pauseShare,
    unit: '%',
    span: spanOf(analysis, first, end - 1),
  })
}
