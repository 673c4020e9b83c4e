import { windowMean, type Series } from '../signal/series.ts'

const BLOCKS = 512

/**
 * Sample at which one step splits the record best: the split whose two halves, each replaced by its mean, leave the
 * smallest squared residue. Works on up to 512 block means, so that noise, ripple and single spikes do not decide.
 * @returns null when the record is shorter than 8 samples or does not vary.
 */
export function findStep(series: Series): number | null {
  const n = series.n
  if (n < 8) return null
  const blocks = Math.min(BLOCKS, n)
  const total = series.prefix[n]!
  const mean = total / n
  let best = 0
  let bestAt = -1
  for (let b = 1; b < blocks; b++) {
    const k = Math.floor((b * n) / blocks)
    const excess = series.prefix[k]! - k * mean
    const gain = (excess * excess) / (k * (n - k))
    if (gain > best) {
      best = gain
      bestAt = k
    }
  }
  if (bestAt < 0 || !(best > 1e-24 * (1 + mean * mean))) return null
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

/** Rough levels on both sides of a split: the first four fifths before it, the last half after it. */
export function roughLevels(series: Series, split: number): { before: number; after: number } {
  const beforeEnd = Math.max(1, Math.floor(0.8 * split))
  const afterFirst = Math.min(series.n - 1, split + Math.floor((series.n - split) / 2))
  return { before: windowMean(series, 0, beforeEnd), after: windowMean(series, afterFirst, series.n) }
}
