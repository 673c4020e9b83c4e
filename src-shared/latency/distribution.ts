/** Delays from input event to light: mean, percentiles with intervals, and how they compare with one frame's wait. */
import { studentT95 } from '#shared/signal/distributions.ts'
import { meanSd } from '#shared/signal/statistics.ts'
import { combineParts } from '#shared/signal/welch-satterthwaite.ts'
import { rankInterval, rankValues } from './rank-interval.ts'
import { waitShape, type WaitShape } from './wait-shape.ts'

export interface Percentile {
  readonly q: number
  readonly value: number
  /** 95 % interval; null where the events are too few to bound that side, the other then a bound of 95 % by itself. */
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

/** Fewer events say too little of percentiles. */
export const LEAST_EVENTS = 100
const QUANTILES = [0.05, 0.25, 0.5, 0.75, 0.95, 0.99]

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
    percentiles: QUANTILES.map((q) => ({
      q,
      value: at(Math.min(n, Math.max(1, Math.ceil(q * n)))),
      ...rankValues(sorted, rankInterval(n, q)),
    })),
    shape: waitShape(sorted, { mean, s }, frame),
  }
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
