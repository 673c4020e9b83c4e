/**
 * Outlier tests. They point at values and give the numbers they compared; no function here ever removes a value.
 */
import { studentTUpper } from './distributions.ts'
import { meanSd, meanUncertainty, type MeanUncertainty, median } from './statistics.ts'

/** Modified z above this is flagged (Iglewicz & Hoaglin, How to Detect and Handle Outliers, ASQC 1993; from memory). */
export const MODIFIED_Z_LIMIT = 3.5
/** Φ⁻¹(0.75): the MAD of a normal distribution in standard deviations. */
export const NORMAL_MAD = 0.6744897501960817

export interface MedianDeviation {
  readonly median: number
  /** Median of |x − median|. */
  readonly mad: number
  /** MAD / Φ⁻¹(0.75): the standard deviation it would mean for normal data. */
  readonly sigma: number
}

/** Median absolute deviation; null when empty. */
export function medianDeviation(values: ArrayLike<number>): MedianDeviation | null {
  const centre = median(values)
  if (centre === null) return null
  const deviations = Float64Array.from(values, (value) => Math.abs(value - centre))
  const mad = median(deviations) ?? 0
  return { median: centre, mad, sigma: mad / NORMAL_MAD }
}

/** Modified z-scores Φ⁻¹(0.75)·(x − median)/MAD, signed; null when empty or when MAD = 0 (more than half the values equal). */
export function modifiedZ(values: ArrayLike<number>): Float64Array | null {
  const spread = medianDeviation(values)
  if (spread === null || spread.mad === 0) return null
  return Float64Array.from(values, (value) => (NORMAL_MAD * (value - spread.median)) / spread.mad)
}

export type GrubbsSides = 'one' | 'two'

/**
 * Critical value of Grubbs' test ((n−1)/√n)·√(t²/(n−2+t²)), t the upper α/n (one-sided) or α/2n (two-sided) point at
 * n − 2 degrees of freedom (Grubbs, Technometrics 11 (1969) 1). n ≥ 3, 0 < α < 1, RangeError otherwise.
 */
export function grubbsCritical(n: number, alpha: number, sides: GrubbsSides): number {
  if (!Number.isInteger(n) || n < 3) throw new RangeError(`Grubbs' test needs at least 3 values, got ${n}`)
  if (!(alpha > 0 && alpha < 1)) throw new RangeError(`alpha must lie between 0 and 1, got ${alpha}`)
  const t = studentTUpper(alpha / (sides === 'two' ? 2 * n : n), n - 2)
  return ((n - 1) / Math.sqrt(n)) * Math.sqrt((t * t) / (n - 2 + t * t))
}

export interface GrubbsTest {
  /** max|x − mean| / s. */
  readonly g: number
  readonly critical: number
  /** The value furthest from the mean. */
  readonly index: number
  readonly outlier: boolean
}

/**
 * Grubbs' test for one outlier; null when n < 4 (at n = 3 the statistic cannot exceed 1.1547 and the test is void) or
 * when all values are equal. `side` picks the furthest value, the largest or the smallest; the last two are one-sided.
 */
export function grubbsTest(
  values: ArrayLike<number>,
  alpha = 0.05,
  side: 'furthest' | 'largest' | 'smallest' = 'furthest',
): GrubbsTest | null {
  const { n, mean, s } = meanSd(values)
  if (n < 4 || mean === null || s === null || s === 0) return null
  let index = 0
  let furthest = -Infinity
  for (let i = 0; i < n; i++) {
    const deviation = (values[i] as number) - mean
    const distance = side === 'furthest' ? Math.abs(deviation) : side === 'largest' ? deviation : -deviation
    if (distance > furthest) {
      furthest = distance
      index = i
    }
  }
  const critical = grubbsCritical(n, alpha, side === 'furthest' ? 'two' : 'one')
  const g = furthest / s
  return { g, critical, index, outlier: g > critical }
}

export interface OutlierReport {
  readonly n: number
  readonly grubbs: GrubbsTest | null
  /** Signed modified z per value; null where it is undefined. */
  readonly modifiedZ: Float64Array | null
  /** Indices flagged by either test, ascending. They stay in the data. */
  readonly flagged: readonly number[]
  /** Statistics of all values, and of all but the flagged ones, so that both can be shown. */
  readonly all: MeanUncertainty
  readonly withoutFlagged: MeanUncertainty
  /** Why no test was possible; null when at least one was. */
  readonly reason: string | null
}

/** Grubbs (two-sided, α = 0.05) and modified z together. Needs four values; flags, never drops. */
export function outlierReport(values: ArrayLike<number>, alpha = 0.05): OutlierReport {
  const all = meanUncertainty(values)
  const n = values.length
  const none = { n, grubbs: null, modifiedZ: null, flagged: [], all, withoutFlagged: all }
  if (n < 4) return { ...none, reason: `Only ${n} values; outliers cannot be told with fewer than 4.` }
  if (all.s === 0) return { ...none, reason: 'All values are equal.' }
  const grubbs = grubbsTest(values, alpha)
  const scores = modifiedZ(values)
  const flagged: number[] = []
  for (let i = 0; i < n; i++) {
    const byZ = scores !== null && Math.abs(scores[i] as number) > MODIFIED_Z_LIMIT
    if (byZ || (grubbs?.outlier === true && grubbs.index === i)) flagged.push(i)
  }
  const kept = flagged.length === 0 ? null : Array.from(values).filter((_, i) => !flagged.includes(i))
  return {
    n,
    grubbs,
    modifiedZ: scores,
    flagged,
    all,
    withoutFlagged: kept === null ? all : meanUncertainty(kept),
    reason: null,
  }
}
