import type { Analysis } from './analysis.ts'
import { findBlurEdge } from './blur-edge.ts'
import type { Levels } from './levels.ts'
import { noCrosstalk } from './pulses.ts'
import type { ResultBuilder } from './result-builder.ts'

const IDS = ['blur_edge_s', 'extended_blur_edge_s', 'gaussian_edge_s'] as const

/**
 * Blur edge from the step response averaged over one frame. Read from the record before conditioning (the frame's
 * average already removes ripple that is a multiple of the refresh, and a mean or low-pass would broaden the edge a
 * second time), except where the recipe divides the ripple out. A strobe's own period, where it is the refresh
 * period to 1 %, is used for the frame: a frame that differs from it would count parts of two pulses.
 */
export function measureBlur(out: ResultBuilder, analysis: Analysis): void {
  const { frame, record, raw, conditioned, levels, clock, dt, noise, rawNoiseV, input, pulses } = analysis
  if (pulses) {
    if (pulses.crosstalkPct === null) out.lack('first_pulse_crosstalk_pct', noCrosstalk(pulses))
    else out.set('first_pulse_crosstalk_pct', pulses.crosstalkPct, pulses.uCrosstalkPct)
  } else out.lack('first_pulse_crosstalk_pct', 'The backlight does not strobe at the refresh rate.')
  if (frame === null) {
    for (const id of IDS) out.lack(id, 'The refresh rate is not known.')
    return
  }
  const divided = input.recipe.condition.kind === 'divide'
  const series = divided ? conditioned.series : raw
  const strobe = pulses
  const period = strobe
    ? Math.round(1 / strobe.frequency / (frame / Math.max(1, Math.round(strobe.frequency * frame))))
    : 0
  const samples = strobe && period === 1 ? Math.round(strobe.frequency * frame) / strobe.frequency : frame
  if (samples < 2) {
    for (const id of IDS) out.lack(id, 'The sampling is too coarse for one frame.')
    return
  }
  const spanV = spanOf(divided ? series.v : [record.minV, record.maxV], levels)
  const blur = findBlurEdge(series, levels, samples, clock.mid, spanV, strobe ? strobe.width : null)
  if (!blur) {
    for (const id of IDS) out.lack(id, 'The record ends before the moving edge has passed 90 %.')
    return
  }
  const sigma = divided ? noise.sigmaV : (rawNoiseV ?? 0)
  const step = Math.abs(levels.stepV)
  const level = (p: number): number => Math.hypot((1 - p) * levels.uBeforeV, p * levels.uAfterV)
  const perFrame = sigma / Math.sqrt(samples)
  const u =
    Math.hypot(Math.hypot(perFrame, level(0.1)) / blur.slopeLow, Math.hypot(perFrame, level(0.9)) / blur.slopeHigh) /
    step
  // A tenth of a sample for the interpolation of the running integral.
  const uS = Math.hypot(u, 0.1) * dt
  out.set('blur_edge_s', blur.width * dt, uS)
  out.set('extended_blur_edge_s', 1.25 * blur.width * dt, 1.25 * uS)
  if (blur.gaussian === null) out.lack('gaussian_edge_s', 'The Gaussian edge does not fit the moving edge.')
  else out.set('gaussian_edge_s', blur.gaussian * dt, uS)
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
