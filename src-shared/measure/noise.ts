import type { Series } from '../signal/series.ts'
import type { NoiseModel } from './noise-model.ts'
import { fitParts } from './noise-fit.ts'
import { blankScales, FEWEST, hasSpikes, readAdjacent, readLagged, SCALES, type Scale } from './noise-scales.ts'

const scales = blankScales()
const ofPlateaus = [blankScales(), blankScales()] as const

/**
 * Noise of the plateaus from differences of sums of 1, 2, 4 … samples (overlapping Allan variances): what drifts evenly
 * cancels, and how the variances grow with the scale tells white noise from noise with a memory. To those variances a
 * white part and the fewest exponential parts that explain them are fitted, none negative.
 * With ripple, differences are taken over `lag` samples instead (whole ripple periods), and over a second lag once more
 * for a second ripple unrelated to the first (of either plateau; 0: none); what is far outside then (edges of a pulsed backlight) does not
 * count.
 * Source: overlapping Allan variance, degrees of freedom as for white noise; fit by weighted least squares.
 * @returns null when the plateaus hold fewer than 8 differences together
 */
export function plateauNoise(
  series: Series,
  windows: readonly [readonly [number, number], readonly [number, number]],
  lag: number,
  lsbV: number,
  second: readonly [number, number] = [0, 0],
): NoiseModel | null {
  const spiked = lag === 0 && windows.some(([first, end]) => hasSpikes(series, first, end, lsbV))
  for (let side = 0; side < 2; side++) {
    const [first, end] = windows[side]!
    const own = ofPlateaus[side]!
    for (const scale of own) scale.dof = 0
    if (lag > 0) readLagged(series, first, end, lag, lsbV, second[side]!, own)
    else if (spiked) readLagged(series, first, end, Math.max(2, (end - first) >> 3), lsbV, 0, own)
    else readAdjacent(series, first, end, lsbV, own)
  }
  pool(...ofPlateaus)
  let used = 0
  while (used < SCALES && scales[used]!.dof > 0) used++
  if (used === 0 || scales[0]!.dof < FEWEST / 2) return null
  return fitParts(scales, used)
}

/** How far apart (in standard deviations of the logarithm) the two plateaus' growth with the scale may lie. */
const APART = 5

/**
 * Both plateaus together. Noise is the same before and after the step but for its size; where one grows with the scale
 * much more than the other, something happens in it (a tail, a second step), and the other one is believed.
 */
function pool(a: readonly Scale[], b: readonly Scale[]): void {
  let left = true
  let right = true
  const [a0, b0] = [variance(a[0]), variance(b[0])]
  const both = a0 > 0 && b0 > 0
  const pooled = both ? (a0 * a[0]!.dof + b0 * b[0]!.dof) / (a[0]!.dof + b[0]!.dof) : 0
  for (let i = 0; i < SCALES; i++) {
    const one = a[i]!
    const two = b[i]!
    const out = scales[i]!
    const [v1, v2] = [variance(one), variance(two)]
    if (both && left && right && v1 > 0 && v2 > 0) {
      const apart = Math.log(v1 / a0 / (v2 / b0))
      const allowed = APART * Math.sqrt(2 / one.dof + 2 / two.dof)
      if (apart > allowed) left = false
      else if (apart < -allowed) right = false
    }
    const [n1, n2] = [left ? one.dof : 0, right ? two.dof : 0]
    out.dof = n1 + n2
    if (out.dof === 0) continue
    out.distance = n1 > 0 ? one.distance : two.distance
    out.slow = (n1 * one.slow + n2 * two.slow) / out.dof
    out.variance = (n1 * v1 + n2 * v2) / out.dof
    // Of one plateau alone: its growth, with the size of both.
    if (!left) out.variance *= pooled / b0
    if (!right) out.variance *= pooled / a0
  }
}

const variance = (scale: Scale | undefined): number => (scale && scale.dof > 0 ? scale.variance : 0)

/**
 * Lag for `plateauNoise`: up to 16 ripple periods, as close to a whole number of samples as there is; 0 without ripple.
 * `frequency` in cycles per sample.
 */
export function rippleLag(frequency: number | null, room: number): number {
  if (frequency === null || !(frequency > 0)) return 0
  let best = 2
  let bestError = Infinity
  for (let periods = 1; periods <= 16; periods++) {
    const exact = periods / frequency
    const lag = Math.round(exact)
    if (lag > room) break
    if (lag < 1) continue
    const error = Math.abs(exact - lag)
    if (error < 0.8 * bestError) {
      best = lag
      bestError = error
      if (error < 0.01) break
    }
  }
  return best
}
