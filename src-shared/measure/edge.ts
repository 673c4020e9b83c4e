import { windowMean, type Series } from '../signal/series.ts'

const BLOCKS = 512

/**
 * Sample at which one step splits the record best: the split whose two halves, each replaced by its mean, leave the
 * smallest squared residue. Works on up to 512 block means, so that noise, ripple and single spikes do not decide.
 * With a `period` (samples) it is found through a mean over that period, so that pulses of light do not decide either.
 * @returns null when the record is shorter than 8 samples or does not vary.
 */
function findStep(series: Series, period = 0): number | null {
  const n = series.n
  if (n < 8) return null
  const blocks = Math.min(BLOCKS, n)
  const total = series.prefix[n]!
  const mean = total / n
  const half = period > 0 ? period / 2 : 0
  let best = 0
  let bestAt = -1
  // k = ⌊b·n ÷ blocks⌋, stepped without dividing.
  const whole = Math.floor(n / blocks)
  const part = n - whole * blocks
  let k = 0
  let rest = 0
  for (let b = 1; b < blocks; b++) {
    k += whole
    rest += part
    if (rest >= blocks) {
      rest -= blocks
      k++
    }
    if (k < half || k > n - half) continue
    const excess = half > 0 ? meanExcess(series, mean, k, half) : series.prefix[k]! - k * mean
    const gain = (excess * excess) / (k * (n - k))
    if (gain > best) {
      best = gain
      bestAt = k
    }
  }
  if (bestAt < 0 || !(best > 1e-24 * (1 + mean * mean))) return null
  if (half > 0) return bestAt
  // Within the blocks on either side, sample by sample.
  const width = Math.ceil(n / blocks)
  const from = Math.max(1, bestAt - width)
  const to = Math.min(n - 1, bestAt + width)
  for (let k = from; k <= to; k++) {
    const excess = series.prefix[k]! - k * mean
    const gain = (excess * excess) / (k * (n - k))
    if (gain > best) {
      best = gain
      bestAt = k
    }
  }
  return bestAt
}

/** Share of a record's range that a step in steady light spans at least; less of it is a step between pulses. */
const OF_RANGE = 0.4

/** The step of a record; where it spans little of the record's range, once more through a mean over one refresh period. */
export function findStepOf(series: Series, rangeV: number, frame: number | null): number | null {
  const split = findStep(series)
  if (split === null || frame === null || !(frame >= 2) || frame > series.n / 4) return split
  // A step within the first or last refresh period is that of a pulse the record begins or ends in.
  if (split < frame || series.n - split < frame) return isOneStep(series, split) ? split : findStep(series, frame)
  const { before, after } = roughLevels(series, split)
  return Math.abs(after - before) < OF_RANGE * rangeV ? findStep(series, frame) : split
}

/** Share of a record's variance that two levels alone explain where it is one step in steady light. */
const EXPLAINED = 0.5

/** Whether two levels describe a record: little was recorded before the step or after it, but the light is steady. */
function isOneStep({ v, prefix, n }: Series, split: number): boolean {
  const mean = prefix[n]! / n
  let squares = 0
  for (let k = 0; k < n; k++) squares += (v[k]! - mean) ** 2
  const excess = prefix[split]! - split * mean
  return (excess * excess * n) / (split * (n - split)) > EXPLAINED * squares
}

const READINGS = 16

/** Mean of prefix(k) − k·mean over one period around k. */
function meanExcess(series: Series, mean: number, k: number, half: number): number {
  let sum = 0
  for (let i = 0; i < READINGS; i++) {
    const at = Math.min(series.n, Math.max(0, Math.round(k + (2 * half * (i + 0.5)) / READINGS - half)))
    sum += series.prefix[at]! - at * mean
  }
  return sum / READINGS
}

/** Rough levels on both sides of a split: the first four fifths before it, the last half after it. */
export function roughLevels(series: Series, split: number): { before: number; after: number } {
  const beforeEnd = Math.max(1, Math.floor(0.8 * split))
  const afterFirst = Math.min(series.n - 1, split + Math.floor((series.n - split) / 2))
  return { before: windowMean(series, 0, beforeEnd), after: windowMean(series, afterFirst, series.n) }
}
