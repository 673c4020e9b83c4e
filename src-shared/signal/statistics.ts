/**
 * Plain statistics of a list of numbers. Inputs are never changed; values must be finite (RangeError otherwise), and
 * too few values answer null, never 0 or NaN.
 */
import { studentT95 } from './distributions.ts'

/** Repeats below this give no usable uncertainty: at n = 3 the standard deviation itself is known to 50 %. */
export const MIN_REPEATS = 5

function assertFinite(total: number, what: string): void {
  if (!Number.isFinite(total)) throw new RangeError(`${what} needs finite values`)
}

export interface MeanSd {
  readonly n: number
  /** null when n = 0. */
  readonly mean: number | null
  /** Sample standard deviation (n − 1); null when n < 2. */
  readonly s: number | null
}

/** Mean and sample standard deviation by Welford's recurrence (Technometrics 4 (1962) 419), which keeps small spreads on large means. */
export function meanSd(values: ArrayLike<number>): MeanSd {
  const n = values.length
  if (n === 0) return { n, mean: null, s: null }
  let mean = 0
  let squares = 0
  for (let i = 0; i < n; i++) {
    const value = values[i] as number
    const delta = value - mean
    mean += delta / (i + 1)
    squares += delta * (value - mean)
  }
  assertFinite(squares, 'meanSd')
  return { n, mean, s: n < 2 ? null : Math.sqrt(Math.max(0, squares) / (n - 1)) }
}

/** Arithmetic mean; null when empty. */
export function mean(values: ArrayLike<number>): number | null {
  return meanSd(values).mean
}

/** Ascending copy. */
function sorted(values: ArrayLike<number>): Float64Array {
  const copy = Float64Array.from(values)
  copy.sort()
  // NaN sorts last and infinities to the ends, so that two looks suffice.
  if (copy.length > 0) assertFinite((copy[0] as number) + (copy[copy.length - 1] as number), 'quantile')
  return copy
}

/** Quantile of an ascending list by method R-7 of Hyndman & Fan (The American Statistician 50 (1996) 361; linear between order statistics, h = (n − 1)p). 0 ≤ p ≤ 1; null when empty. */
export function quantileSorted(ascending: ArrayLike<number>, p: number): number | null {
  if (!(p >= 0 && p <= 1)) throw new RangeError(`quantile needs 0 ≤ p ≤ 1, got ${p}`)
  const n = ascending.length
  if (n === 0) return null
  const h = (n - 1) * p
  const low = Math.floor(h)
  const first = ascending[low] as number
  const second = ascending[Math.min(low + 1, n - 1)] as number
  return first + (h - low) * (second - first)
}

/** Median; null when empty. */
export function median(values: ArrayLike<number>): number | null {
  return quantileSorted(sorted(values), 0.5)
}

export interface MeanUncertainty {
  readonly n: number
  readonly mean: number | null
  /** Sample standard deviation; null when n < 2. */
  readonly s: number | null
  /** Standard uncertainty of the mean s/√n (GUM, JCGM 100 4.2.3); null when n < 2. */
  readonly u: number | null
  /** Half width of the 95 % interval t₀.₉₇₅(n − 1)·u; null when n < 5. */
  readonly u95: number | null
  /** Why `u95` (or all) is null; null when nothing is. */
  readonly reason: string | null
}

/** Type A evaluation of repeated values. */
export function meanUncertainty(values: ArrayLike<number>): MeanUncertainty {
  const { n, mean: centre, s } = meanSd(values)
  if (centre === null) return { n, mean: null, s: null, u: null, u95: null, reason: 'No values.' }
  if (s === null)
    return { n, mean: centre, s, u: null, u95: null, reason: 'A single value has no spread; 5 repeats are needed.' }
  const u = s / Math.sqrt(n)
  if (n < MIN_REPEATS) {
    const reason = `Only ${n} repeats; fewer than ${MIN_REPEATS} give no usable uncertainty.`
    return { n, mean: centre, s, u, u95: null, reason }
  }
  return { n, mean: centre, s, u, u95: studentT95(n - 1) * u, reason: null }
}
