import type { Analysis } from './analysis.ts'
import { addTerm, beginBudget, closeBudget, stateMeasure } from './budget.ts'
import { findBlurEdge } from './blur-edge.ts'
import type { Levels } from './levels.ts'
import { slopeOfMean } from './bending.ts'
import { broadenedBy, DETECTOR_BROADENS } from './detector-terms.ts'
import { noCrosstalk } from './pulses.ts'
import type { ResultBuilder } from './result-builder.ts'
import { addCrossing, shareMoves, type Crossing } from './timing.ts'

const IDS = ['blur_edge_s', 'extended_blur_edge_s', 'gaussian_edge_s'] as const

/**
 * Blur edge from the step response averaged over one frame. Read from the trace as the recipe conditions
 * it, ripple with it, like every other measure. A strobe's own period, where it is the refresh
 * period to 1 %, is used for the frame: a frame that differs from it would count parts of two pulses.
 */
export function measureBlur(out: ResultBuilder, analysis: Analysis): void {
  const { frame, record, raw, conditioned, levels, clock, dt, rate, residuals, input, pulses } = analysis
  if (pulses) {
    if (pulses.crosstalkPct === null) out.lack('first_pulse_crosstalk_pct', noCrosstalk(pulses))
    else out.set('first_pulse_crosstalk_pct', pulses.crosstalkPct, pulses.uCrosstalkPct)
  } else out.lack('first_pulse_crosstalk_pct', 'The backlight does not strobe at the refresh rate.')
  if (frame === null) {
    for (const id of IDS) out.lack(id, 'The refresh rate is not known.')
    return
  }
  const { series, meanWidth } = conditioned
  const strobe = pulses
  const period = strobe
    ? Math.round(1 / strobe.frequency / (frame / Math.max(1, Math.round(strobe.frequency * frame))))
    : 0
  const samples = strobe && period === 1 ? Math.round(strobe.frequency * frame) / strobe.frequency : frame
  if (samples < 2) {
    for (const id of IDS) out.lack(id, 'The sampling is too coarse for one frame.')
    return
  }
  const spanV = spanOf(series === raw ? [record.minV, record.maxV] : series.v, levels)
  const doubt = Math.hypot(residuals.before.totalV, residuals.after.totalV) / Math.abs(levels.stepV)
  const blur = findBlurEdge(series, levels, samples, clock.mid, spanV, strobe ? strobe.width : null, doubt)
  if (!blur) {
    for (const id of IDS) out.lack(id, 'The record ends before the moving edge has passed 90 %.')
    return
  }
  const at = (x: number, share: number, slope: number): Crossing => {
    const volts = levels.beforeV + share * levels.stepV
    return {
      // The mean over the frame that has just passed.
      x: x - samples / 2,
      width: samples,
      step: clock.mid,
      slope: slope * Math.abs(levels.stepV),
      seen: slope * Math.abs(levels.stepV),
      volts,
      share,
      direction: 1,
      spread: 0,
      moves: shareMoves(levels, volts),
      interpolation: 0,
      // Curvature of the mean over the frame: the difference of the slopes at its two ends.
      bentV:
        (meanWidth ** 2 / 24) *
        ((slopeOfMean(series, meanWidth, x) - slopeOfMean(series, meanWidth, x - samples)) / samples),
    }
  }
  beginBudget()
  addCrossing(clock, at(blur.x90, 0.9, blur.slopeHigh), 1)
  addCrossing(clock, at(blur.x10, 0.1, blur.slopeLow), -1)
  // A tenth of a sample for the interpolation of the running integral.
  addTerm('interpolation', 0.1)
  const { detectorS } = input.recipe
  if (detectorS !== null) {
    addTerm('detector', (DETECTOR_BROADENS * broadenedBy(blur.width, detectorS * rate)) / Math.sqrt(3))
  }
  closeBudget(levels, residuals)
  stateMeasure(out, 'blur_edge_s', blur.width * dt, dt)
  stateMeasure(out, 'extended_blur_edge_s', 1.25 * blur.width * dt, 1.25 * dt)
  if (blur.gaussian === null) out.lack('gaussian_edge_s', 'The Gaussian edge does not fit the moving edge.')
  else stateMeasure(out, 'gaussian_edge_s', blur.gaussian * dt, dt)
}

/** Largest difference between any two of the voltages and levels. */
function spanOf(volts: ArrayLike<number>, { beforeV, afterV }: Levels): number {
  let min = Math.min(beforeV, afterV)
  let max = Math.max(beforeV, afterV)
  for (let k = 0; k < volts.length; k++) {
    const y = volts[k]!
    if (y < min) min = y
    if (y > max) max = y
  }
  return max - min
}
