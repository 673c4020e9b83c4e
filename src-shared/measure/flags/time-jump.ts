import type { Series } from '../../signal/series.ts'

/** A jump of the trace between two samples, as if time had been cut out. */
export interface TimeJump {
  /** The sample before the jump. */
  readonly at: number
  readonly jumpV: number
  readonly limitV: number
}

/** Samples on either side that tell how fast the signal moves and how long it stays where it jumped to. */
const SIDE = 4
/** Multiples of the noise of one difference, and of the change from sample to sample around it, that a jump exceeds. */
const NOISE_REACH = 6
const SLOPE_REACH = 4
/** Least jump, as a share of the step. */
const LEAST_SHARE = 0.05

/**
 * Largest jump between two neighbouring samples in samples first … end that noise (`sigmaV` per sample) and the
 * signal's own speed do not explain: more than six standard deviations of a difference, four times the steepest
 * change per sample on either side, and 5 % of the step. The signal must stay where it went: the means of four samples
 * on either side differ by as much, so that a single spike does not count.
 */
export function findTimeJump(
  series: Series,
  first: number,
  end: number,
  sigmaV: number,
  stepV: number,
): TimeJump | null {
  const { v, prefix, n } = series
  const from = Math.max(SIDE, Math.floor(first))
  const to = Math.min(n - 1 - SIDE, Math.ceil(end))
  const noise = NOISE_REACH * Math.SQRT2 * sigmaV
  const least = Math.max(noise, LEAST_SHARE * Math.abs(stepV))
  let best: TimeJump | null = null
  for (let k = from; k < to; k++) {
    const d = v[k + 1]! - v[k]!
    const jump = Math.abs(d)
    if (jump <= least || (best !== null && jump <= Math.abs(best.jumpV))) continue
    // Mean change per sample over the four samples on either side, and what noise adds to it.
    const slopeBefore = Math.abs(v[k]! - v[k - SIDE + 1]!) / (SIDE - 1)
    const slopeAfter = Math.abs(v[k + SIDE]! - v[k + 1]!) / (SIDE - 1)
    const slope = Math.max(slopeBefore, slopeAfter)
    const limit = Math.max(least, noise + slope, SLOPE_REACH * slope)
    if (jump <= limit) continue
    const before = (prefix[k + 1]! - prefix[k + 1 - SIDE]!) / SIDE
    const after = (prefix[k + 1 + SIDE]! - prefix[k + 1]!) / SIDE
    if ((after - before) * Math.sign(d) < 0.7 * jump) continue
    best = { at: k, jumpV: d, limitV: limit }
  }
  return best
}
