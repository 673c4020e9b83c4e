/** Delays from input event to light: mean, percentiles with intervals, and how they compare with one frame's wait. */
import { seededRandom } from '#shared/domain/seeded-random.ts'
import { incompleteBeta, studentT95 } from '#shared/signal/distributions.ts'
import { meanSd } from '#shared/signal/statistics.ts'
import { combineParts } from '#shared/signal/welch-satterthwaite.ts'

export interface RankInterval {
  /** Ranks from 1; an upper rank of n + 1 means that the interval is open: no event is known to lie above. */
  readonly low: number
  readonly high: number
}

/**
 * Distribution-free interval of a quantile from order statistics: P(X₍low₎ ≤ ξ_q < X₍high₎) ≥ 95 % by the binomial
 * law, at most 2.5 % on each side (David & Nagaraja, Order Statistics, 7.1; from memory). Low rank 0: open below.
 */
export function rankInterval(n: number, q: number): RankInterval {
  /** P(B ≤ k) of n trials of probability q. */
  const atMost = (k: number): number => (k < 0 ? 0 : k >= n ? 1 : incompleteBeta(1 - q, n - k, k + 1))
  let low = 0
  while (low < n && atMost(low) <= 0.025) low++
  let high = n + 1
  while (high > low + 1 && 1 - atMost(high - 2) <= 0.025) high--
  return { low, high }
}

export interface Percentile {
  readonly q: number
  readonly value: number
  /** 95 % interval; null where the events are too few to bound that side. */
  readonly low: number | null
  readonly high: number | null
}

export interface DelayDistribution {
  readonly n: number
  readonly mean: number
  readonly sd: number
  /** Half width of the 95 % interval of the mean, Student's t. */
  readonly u95: number
  readonly min: number
  readonly max: number
  readonly percentiles: readonly Percentile[]
  readonly shape: WaitShape
}

export interface WaitShape {
  /** Largest distance from a uniform distribution over one frame, its start fitted (Kolmogorov and Smirnov's D). */
  readonly distance: number
  /** Chance of as large a distance where the wait for a frame is all there is; from seeded draws of the same size. */
  readonly p: number
  /** Events more than one and a half frames after the earliest: whole frames were queued for them. */
  readonly late: number
  /** `narrower`: the events fell into step with the frames. `wider`: jitter, drift or queued frames beside the wait. */
  readonly verdict: 'one-frame' | 'narrower' | 'wider'
}

/** Fewer events say too little of percentiles. */
export const LEAST_EVENTS = 100
/**
 * Frames after the earliest event above which one counts as queued. The wait alone spreads over one frame, a queued frame
 * adds a whole one: the middle between them, a choice, leaves half a frame to jitter on either side.
 */
const LATE_FRAMES = 1.5
const QUANTILES = [0.05, 0.25, 0.5, 0.75, 0.95, 0.99]
const DRAWS = 200

/** @param delays any unit, at least two; null otherwise. @param frame one refresh period in the same unit. */
export function delayDistribution(delays: readonly number[], frame: number): DelayDistribution | null {
  const sorted = [...delays].sort((a, b) => a - b)
  const { n, mean, s } = meanSd(sorted)
  if (mean === null || s === null) return null
  const at = (rank: number): number => sorted[rank - 1] as number
  return {
    n,
    mean,
    sd: s,
    u95: (studentT95(n - 1) * s) / Math.sqrt(n),
    min: at(1),
    max: at(n),
    percentiles: QUANTILES.map((q) => {
      const { low, high } = rankInterval(n, q)
      return {
        q,
        value: at(Math.min(n, Math.max(1, Math.ceil(q * n)))),
        low: low < 1 ? null : at(low),
        high: high > n ? null : at(high),
      }
    }),
    shape: waitShape(sorted, { mean, s }, frame),
  }
}

/** D of ascending values against U(start, start + frame), the start placed so that the means agree. */
function distanceFrom(sorted: ArrayLike<number>, mean: number, frame: number): number {
  const n = sorted.length
  const start = mean - frame / 2
  let most = 0
  for (let i = 0; i < n; i++) {
    const expected = Math.min(1, Math.max(0, ((sorted[i] as number) - start) / frame))
    most = Math.max(most, Math.abs((i + 1) / n - expected), Math.abs(expected - i / n))
  }
  return most
}

let drawnLast: { readonly n: number; readonly distances: readonly number[] } | null = null

/** D of `DRAWS` samples of n from the wait alone; the same for the same n. */
function drawnDistances(n: number): readonly number[] {
  if (drawnLast?.n === n) return drawnLast.distances
  const random = seededRandom(n)
  const distances = Array.from({ length: DRAWS }, () => {
    const drawn = Float64Array.from({ length: n }, () => random()).sort()
    const mean = drawn.reduce((sum, value) => sum + value, 0) / n
    return distanceFrom(drawn, mean, 1)
  })
  drawnLast = { n, distances }
  return distances
}

function waitShape(
  sorted: readonly number[],
  { mean, s }: { readonly mean: number; readonly s: number },
  frame: number,
): WaitShape {
  const n = sorted.length
  const distance = distanceFrom(sorted, mean, frame)
  const larger = drawnDistances(n).filter((drawn) => drawn >= distance).length
  const p = (larger + 1) / (DRAWS + 1)
  const first = sorted[0] as number
  const late = sorted.filter((value) => value > first + LATE_FRAMES * frame).length
  const verdict = p >= 0.05 ? 'one-frame' : s < frame / Math.sqrt(12) ? 'narrower' : 'wider'
  return { distance, p, late, verdict }
}

export interface DelayDifference {
  readonly value: number
  readonly u: number
  readonly dof: number
  readonly u95: number
}

/** Difference of two means by Welch's approximation. */
export function meanDifference(a: DelayDistribution, b: DelayDistribution): DelayDifference {
  const { u, dof } = combineParts([a, b].map(({ sd, n }) => ({ u: sd / Math.sqrt(n), dof: n - 1 })))
  return { value: a.mean - b.mean, u, dof, u95: studentT95(dof) * u }
}
