/**
 * Outlier tests. They point at values and give the numbers they compared; no function here ever removes a value.
 */
import { studentTUpper } from './distributions.ts'
import { meanSd, median } from './statistics.ts'

/** Φ⁻¹(0.75): the MAD of a normal distribution in standard deviations. */
const NORMAL_MAD = 0.6744897501960817

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

type GrubbsSides = 'one' | 'two'

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
