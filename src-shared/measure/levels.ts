import type { Ladder } from '../domain/capture.ts'
import type { Recipe } from '../domain/recipe.ts'
import { histogramLevels } from '../signal/histogram-levels.ts'
import { windowSlope } from '../signal/line-fit.ts'
import { medianInPlace } from '../signal/robust.ts'
import { sigmaOfMean, type NoiseModel } from './noise-model.ts'
import { meanBetween, windowMean, type Series } from '../signal/series.ts'

/** State levels of a step with their standard uncertainties, V, and the windows (samples, end exclusive) they came from. */
export interface Levels {
  readonly beforeV: number
  readonly afterV: number
  /** Signed difference after − before. */
  readonly stepV: number
  readonly sign: 1 | -1
  readonly uBeforeV: number
  readonly uAfterV: number
  /** The part of them that is the method's: bins of a histogram, a ladder that disagrees. */
  readonly methodBeforeV: number
  readonly methodAfterV: number
  /** Stretches the levels are means of (whole ripple periods), samples; a level that is no mean of the record is fixed. */
  readonly usedBefore: readonly [number, number]
  readonly usedAfter: readonly [number, number]
  readonly fixedBefore: boolean
  readonly fixedAfter: boolean
  /** Variance of a median over that of a mean, 1 for means. */
  readonly efficiency: number
  readonly beforeWindow: readonly [number, number]
  readonly afterWindow: readonly [number, number]
}

export interface LevelRequest {
  readonly series: Series
  readonly levels: Recipe['levels']
  /** End of the undisturbed record before the step, and the 50 % crossing, samples. */
  readonly preEnd: number
  readonly edge: number
  readonly from: number | null
  readonly to: number | null
  readonly ladder: Ladder | null
  readonly noise: NoiseModel
  /** Ripple period left in the series, samples; 0 when there is none. */
  readonly ripplePeriod: number
  readonly beforeWindow: readonly [number, number] | null
  readonly afterWindow: readonly [number, number] | null
}

/** Levels of the step, or why there are none. */
export function findLevels(request: LevelRequest): Levels | { readonly problem: string } {
  const { series, levels, preEnd, edge } = request
  const n = series.n
  const shareBefore = levels.kind === 'windows' ? levels.beforeShare : 0.6
  const shareAfter = levels.kind === 'windows' ? levels.afterShare : 0.2
  const before = request.beforeWindow ?? [0, Math.max(1, Math.round(shareBefore * preEnd))]
  const dwell = n - edge
  const after = request.afterWindow ?? [Math.min(n - 1, Math.round(n - shareAfter * dwell)), n]
  if (request.beforeWindow === null && preEnd < 2) return { problem: 'Nothing is recorded before the step.' }
  const statistic = levels.kind === 'windows' ? levels.statistic : 'mean'
  const a = windowLevel(request, before, statistic)
  const b = windowLevel(request, after, statistic)
  let beforeV = a.level
  let afterV = b.level
  let methodBeforeV = 0
  let methodAfterV = 0
  let fromLadder = false
  // A window a person moved is what the level is read from, whatever the recipe does otherwise.
  const moved = { before: request.beforeWindow !== null, after: request.afterWindow !== null }
  const bothMoved = moved.before && moved.after
  if (levels.kind === 'histogram' && !bothMoved) {
    const found = histogramLevels(series.v, levels.bins, levels.statistic)
    if (!found) return { problem: 'The record does not vary.' }
    const rising = b.level > a.level
    if (!moved.before) beforeV = rising ? found.low : found.high
    if (!moved.after) afterV = rising ? found.high : found.low
    // Half a bin is the method's own bias for the mode; the mean of a half is pulled by the transition itself.
    const bin = (found.high - found.low) / levels.bins
    const bias = (distance: number): number => (levels.statistic === 'mode' ? bin / 2 : distance / Math.sqrt(3))
    if (!moved.before) methodBeforeV = bias(beforeV - a.level)
    if (!moved.after) methodAfterV = bias(afterV - b.level)
  }
  if (levels.kind === 'ladder' && !bothMoved) {
    const { ladder, from, to } = request
    if (!ladder) return { problem: 'The recipe takes its levels from the ladder, and none was measured.' }
    if (from === null || to === null) return { problem: 'The grey levels of this step are not known.' }
    const low = ladder.steps.find((step) => step.level === from)
    const high = ladder.steps.find((step) => step.level === to)
    if (!low || !high) return { problem: `The ladder does not hold level ${low ? to : from}.` }
    if (!moved.before) beforeV = low.meanV
    if (!moved.after) afterV = high.meanV
    // How far ladder and record disagree is what is known of the ladder's error.
    methodBeforeV = Math.abs(beforeV - a.level) / Math.sqrt(3)
    methodAfterV = Math.abs(afterV - b.level) / Math.sqrt(3)
    fromLadder = true
  }
  const stepV = afterV - beforeV
  const noiseOfStep = Math.hypot(a.u, b.u)
  if (!(Math.abs(stepV) > 0) || Math.abs(stepV) < 3 * noiseOfStep) {
    return { problem: 'The two levels do not differ by more than their uncertainty.' }
  }
  return {
    beforeV,
    afterV,
    stepV,
    sign: stepV > 0 ? 1 : -1,
    uBeforeV: Math.hypot(a.u, methodBeforeV),
    uAfterV: Math.hypot(b.u, methodAfterV),
    methodBeforeV,
    methodAfterV,
    usedBefore: a.used,
    usedAfter: b.used,
    fixedBefore: fromLadder && !moved.before,
    fixedAfter: fromLadder && !moved.after,
    efficiency: statistic === 'median' ? MEDIAN : 1,
    beforeWindow: before,
    afterWindow: after,
  }
}

/**
 * Drift through a window, V: slope times width by least squares; with ripple (`period` in samples, 0 without) twice the
 * difference between the means of its two halves in whole ripple periods, and 0 where they hold less than one each.
 */
export function windowDrift(series: Series, window: readonly [number, number], period: number): number {
  const [first, end] = window
  if (period <= 0) return windowSlope(series, first, end) * (end - first)
  const periods = Math.floor((end - 1 - first) / period / 2)
  if (periods < 1) return 0
  const half = periods * period
  return 2 * (meanBetween(series, end - 1 - half, end - 1) - meanBetween(series, end - 1 - 2 * half, end - 1 - half))
}

/** Variance of the median of many Gaussian values over that of their mean: π/2. */
const MEDIAN = Math.PI / 2

/**
 * Mean (over whole ripple periods where there is ripple) or median of a window with its standard uncertainty by noise, and
 * the stretch it was taken from.
 */
function windowLevel(
  request: LevelRequest,
  window: readonly [number, number],
  statistic: 'mean' | 'median',
): { level: number; u: number; used: readonly [number, number] } {
  const { series, ripplePeriod } = request
  const [first, end] = window
  const n = end - first
  const u = sigmaOfMean(request.noise, n)
  if (statistic === 'median') {
    const copy = series.v.slice(first, end)
    return { level: medianInPlace(copy), u: Math.sqrt(MEDIAN) * u, used: window }
  }
  const periods = ripplePeriod > 0 ? Math.floor((n - 1) / ripplePeriod) : 0
  if (periods < 1) return { level: windowMean(series, first, end), u, used: window }
  // The end nearest to the step gives way before it, the end of the record stays after it.
  const length = periods * ripplePeriod
  const from = first === 0 ? first : end - 1 - length
  return { level: meanBetween(series, from, from + length), u, used: [from + 0.5, from + 0.5 + length] }
}
