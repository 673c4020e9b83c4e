/** First-frame completion and integrated error: what is read from the onset on. */
import { type Series } from '../signal/series.ts'
import type { Analysis } from './analysis.ts'
import { bentBy, slopeOfMean } from './bending.ts'
import { addBent, addLevels, addRead, addStretch, addTerm, beginBudget, closeBudget, stateMeasure } from './budget.ts'
import { addDetector, DETECTOR_ONSET } from './detector-terms.ts'
import { integrateError, mapStretch } from './integrated-error.ts'
import { halfWidthFor, noiseReach, sigmaOfMean } from './noise-model.ts'
import { ordinateOf } from './ordinate.ts'
import { readAt } from './read-at.ts'
import type { ResultBuilder } from './result-builder.ts'
import { shareOfVolts } from './thresholds.ts'
import { addCrossing, interpolation, type Crossing } from './timing.ts'

export function measureFromOnset(out: ResultBuilder, analysis: Analysis, onset: Crossing | null): void {
  const { clock, thresholds, levels, dt, noise, frame, input, codes, residuals } = analysis
  const { recipe } = input
  const { series, scale } = clock
  if (onset === null) {
    const reason = thresholds.bandProblem ?? 'The signal is never inside its start band before the step.'
    out.lack('integrated_error_s', reason)
    out.lack('first_frame_completion_pct', reason)
    return
  }
  const last = series.n - 1
  const ordinate = ordinateOf(recipe.ordinate, codes)
  if ('problem' in ordinate) {
    out.lack('integrated_error_s', ordinate.problem)
    out.lack('first_frame_completion_pct', ordinate.problem)
    return
  }
  // Completion: read through the mean that the crossings near the end level use.
  if (frame === null) out.lack('first_frame_completion_pct', 'The refresh rate is not known.')
  else if (onset.x + frame > last) out.lack('first_frame_completion_pct', 'The record ends within the first frame.')
  else {
    const at = onset.x + frame
    const reading = readAt(series, noise, at, Math.min(scale / 40, frame / 40))
    const share = shareOfVolts(levels, recipe.ordinate, codes, reading.volts)
    if (share === null) out.lack('first_frame_completion_pct', 'The ordinate needs a ladder.')
    else {
      const step = 1e-3 * levels.stepV
      const gradient = ((shareOfVolts(levels, recipe.ordinate, codes, reading.volts + step) ?? share) - share) / step
      const part = (reading.volts - levels.beforeV) / levels.stepV
      beginBudget()
      const bentV = bentBy(series, clock.meanWidth, at)
      addRead({ x: at, width: reading.width, share: part, gradient: reading.slope, bentV }, 1, residuals)
      addCrossing(clock, onset, reading.slope)
      addLevels(levels, part - 1, -part)
      addTerm('noise', reading.kinkV)
      addTerm('interpolation', reading.slope * interpolation(series, at, noise.sigmaV) * (reading.width > 1 ? 0 : 1))
      if (recipe.detectorS !== null)
        addTerm('detector', (DETECTOR_ONSET * recipe.detectorS * analysis.rate * reading.slope) / Math.sqrt(3))
      closeBudget(levels, residuals)
      stateMeasure(out, 'first_frame_completion_pct', 100 * share, 100 * gradient)
    }
  }
  const to = recipe.errorSpanS === null ? last : onset.x + recipe.errorSpanS / dt
  if (to > last) {
    out.lack('integrated_error_s', 'The record ends before the span of the integrated error.')
    return
  }
  const samples = to - onset.x
  const half = halfWidthFor(noise, samples, 0.0025 * Math.abs(levels.stepV), scale / 4)
  const guard =
    (noise.sigmaV > 0 ? noiseReach(noise, samples, 2 * half + 1) * sigmaOfMean(noise, 2 * half + 1) : 0) +
    residuals.peakV
  if (ordinate.scale !== null) {
    const { of } = ordinate.scale
    const first = Math.max(0, Math.floor(onset.x))
    const mapped = mapStretch(series, first, series.n, of)
    const c1 = of(levels.beforeV)
    const c2 = of(levels.afterV)
    const perVolt = Math.abs(of(levels.afterV + guard) - of(levels.afterV - guard)) / 2
    const { total } = integrateError(mapped, onset.x - first, to - first, c2, half, perVolt)
    const gradient = Math.abs((c2 - c1) / levels.stepV)
    // Near black the end level's uncertainty is many codes or L*, all through the span.
    const doubtV = Math.hypot(levels.uAfterV, residuals.after.totalV)
    const beyond = Math.abs(of(levels.afterV + doubtV) - of(levels.afterV - doubtV)) / 2 - doubtV * gradient
    openError(analysis, onset, to, [], total / gradient)
    addTerm('ladder', (Math.max(0, beyond) * samples) / gradient)
    stateMeasure(out, 'integrated_error_s', (total / Math.abs(c2 - c1)) * dt, (gradient * dt) / Math.abs(c2 - c1))
    return
  }
  const { total, turns } = integrateError(series, onset.x, to, levels.afterV, half, guard)
  openError(analysis, onset, to, turns, total)
  stateMeasure(out, 'integrated_error_s', (total / Math.abs(levels.stepV)) * dt, dt / Math.abs(levels.stepV))
}

/**
 * Budget of an integrated error, V × samples: the samples themselves with the sign of their side, the end level all
 * through, the onset with the error there, and the step it is divided by. `turns` are where the error changes side.
 */
function openError(analysis: Analysis, onset: Crossing, to: number, turns: readonly number[], total: number): void {
  const { clock, levels, residuals } = analysis
  const stepV = Math.abs(levels.stepV)
  beginBudget()
  // How long the signal takes to come within one of the converter's steps.
  const { lsbV, roundingV } = residuals
  const within = roundingV > 0 && lsbV > 0 ? lastBeyond(clock.series, onset.x, to, levels.afterV, lsbV) - onset.x : 0
  const passing = Math.max(2 * clock.scale, within)
  let side: number = levels.sign
  let from = onset.x
  let onTarget = 0
  for (let i = 0; i <= turns.length; i++) {
    const end = turns[i] ?? to
    if (end > from) {
      // On its way the signal passes many of the converter's steps and is lit less.
      const way = Math.min(end, Math.max(from, onset.x + passing))
      addStretch(from + 0.5, way + 0.5, -side * (way - from), 0.5)
      addStretch(way + 0.5, end + 0.5, -side * (end - way), 1)
      onTarget += side * (end - from)
    }
    side = -side
    from = end
  }
  const ratio = (total / stepV) * levels.sign
  addLevels(levels, ratio, onTarget - ratio)
  addCrossing(clock, onset, -(1 - onset.share) * stepV)
  // A mean over W moves no area but past the ends: W²/24 of the slope at the onset.
  if (clock.meanWidth > 0)
    addBent((clock.meanWidth ** 2 / 24) * slopeOfMean(clock.series, clock.meanWidth, onset.x) * levels.sign)
  // What stays of a tail below half a step is not seen at all: so much over its time constant.
  addTerm(
    'rounding',
    roundingV * Math.max(clock.scale / Math.log(9), within / Math.log(Math.max(Math.E, stepV / lsbV))),
  )
  // The trapezoids between the samples: their error adds up to a twelfth of the steepest change, from a corner on to half.
  const { v, n } = clock.series
  const k = Math.min(n - 3, Math.max(0, Math.floor(onset.x)))
  const steepest = Math.max(Math.abs(v[k + 1]! - v[k]!), Math.abs(v[k + 2]! - v[k + 1]!))
  const seen = Math.sqrt(Math.max(0, steepest ** 2 - 2 * residuals.noise.sigmaV ** 2))
  addTerm('interpolation', (interpolation(clock.series, onset.x, residuals.noise.sigmaV) + 1 / 12) * seen)
  if (analysis.input.recipe.detectorS !== null) addDetector(analysis, DETECTOR_ONSET * stepV)
  closeBudget(levels, residuals)
}

/** Last position at which the series is further than `distance` from a level, between `from` and `to`. */
function lastBeyond({ v }: Series, from: number, to: number, level: number, distance: number): number {
  let k = Math.floor(to)
  while (k > from && Math.abs(v[k]! - level) <= distance) k--
  return Math.max(from, k)
}
