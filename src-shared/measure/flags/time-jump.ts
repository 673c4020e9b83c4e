import type { Series } from '../../signal/series.ts'
import { LIMITS, reachOf } from './budget.ts'

/** A jump of the trace between two samples, as if time had been cut out. */
export interface TimeJump {
  /** The sample before the jump. */
  readonly at: number
  readonly jumpV: number
  readonly limitV: number
}

/** Samples on either side that tell how fast the signal moves and how long it stays where it jumped to. */
const SIDE = 4

/**
 * Largest jump between two neighbouring samples in samples first … end that noise (`sigmaV` per sample) and the
 * signal's own speed do not explain: larger than noise makes any of the differences with the given `chance`, four times
 * the steepest change per sample on either side, and 5 % of the step. The signal must stay where it went: the means of four samples
 * on either side differ by as much, so that a single spike does not count.
 */
export function findTimeJump(
  series: Series,
  first: number,
  end: number,
  sigmaV: number,
  stepV: number,
  chance: number,
): TimeJump | null {
  const { v, prefix, n } = series
  const from = Math.max(SIDE, Math.floor(first))
  const to = Math.min(n - 1 - SIDE, Math.ceil(end))
  const noise = reachOf(chance / Math.max(1, to - from)) * Math.SQRT2 * sigmaV
  const least = Math.max(noise, LIMITS.jumpShare * Math.abs(stepV))
  let best: TimeJump | null = null
  for (let k = from; k < to; k++) {
    const d = v[k + 1]! - v[k]!
    const jump = Math.abs(d)
    if (jump <= least || (best !== null && jump <= Math.abs(best.jumpV))) continue
    // Mean change per sample over the four samples on either side, and what noise adds to it.
    const slopeBefore = Math.abs(v[k]! - v[k - SIDE + 1]!) / (SIDE - 1)
    const slopeAfter = Math.abs(v[k + SIDE]! - v[k + 1]!) / (SIDE - 1)
    const slope = Math.max(slopeBefore, slopeAfter)
    const limit = Math.max(least, noise + slope, LIMITS.jumpSlope * slope)
    if (jump <= limit) continue
    const before = (prefix[k + 1]! - prefix[k + 1 - SIDE]!) / SIDE
    const after = (prefix[k + 1 + SIDE]! - prefix[k + 1]!) / SIDE
    if ((after - before) * Math.sign(d) < LIMITS.jumpStays * jump) continue
    best = { at: k, jumpV: d, limitV: limit }
  }
  return best
}
