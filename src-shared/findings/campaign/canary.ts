import { fTail } from '#shared/signal/f-distribution.ts'
import { studentTUpper } from '#shared/signal/distributions.ts'
import { meanSd } from '#shared/signal/statistics.ts'

/**
 * Whether a display still answers as before: a few transitions captured again after a change of setting ("canaries")
 * are compared, as logarithms of their durations, with those of an earlier visit.
 */
export type CanaryAnswer = 'changed' | 'unchanged' | 'cannot-tell'

export interface CanaryComparison {
  readonly answer: CanaryAnswer
  /** p-value of "all transitions are as before". */
  readonly p: number
  /** Mean change over the transitions, relative (0.05 is 5 % longer), and its standard uncertainty. */
  readonly meanChange: number
  readonly meanChangeU: number
  /** Largest relative change of one transition, signed. */
  readonly largestChange: number
  /** Relative change up to which "unchanged" is claimed. */
  readonly margin: number
}

/**
 * @param before, after durations of the same transitions (any unit, > 0): one list of repeats a transition, at least two each
 * @param alpha probability of calling an unchanged display changed
 * @param margin relative change that would matter
 * F = Σ d²/(u²) over the transitions against F(k, ν) with the pooled standard deviation of repeats; "unchanged" needs
 * every transition within the margin by two one-sided t tests at 5 % (equivalence test; Schuirmann 1987, from memory).
 * Not significant is not the same as unchanged: between the two nothing can be told.
 * RangeError when the lists do not match or have no repeats.
 */
export function compareCanaries(
  before: readonly (readonly number[])[],
  after: readonly (readonly number[])[],
  alpha: number,
  margin: number,
): CanaryComparison {
  if (before.length === 0 || before.length !== after.length) throw new RangeError('the same transitions are needed')
  let squares = 0
  let dof = 0
  const differences = before.map((old, i) => {
    const [a, b] = [logs(old), logs(after[i] as readonly number[])]
    squares += a.squares + b.squares
    dof += a.n + b.n - 2
    return { d: b.mean - a.mean, weight: 1 / a.n + 1 / b.n }
  })
  const s2 = squares / dof
  const k = differences.length
  const f = differences.reduce((sum, { d, weight }) => sum + d ** 2 / weight, 0) / (k * s2)
  const p = fTail(f, k, dof)
  const meanChange = differences.reduce((sum, { d }) => sum + d, 0) / k
  const meanU = Math.sqrt(differences.reduce((sum, { weight }) => sum + s2 * weight, 0)) / k
  const largest = differences.reduce((a, b) => (Math.abs(b.d) > Math.abs(a.d) ? b : a)).d
  const t = studentTUpper(0.05, dof)
  const limit = Math.log1p(margin)
  const within = differences.every(({ d, weight }) => Math.abs(d) + t * Math.sqrt(s2 * weight) < limit)
  return {
    answer: p < alpha ? 'changed' : within ? 'unchanged' : 'cannot-tell',
    p,
    meanChange: Math.expm1(meanChange),
    meanChangeU: meanU,
    largestChange: Math.expm1(largest),
    margin,
  }
}

function logs(values: readonly number[]): { n: number; mean: number; squares: number } {
  const { n, mean, s } = meanSd(values.map(Math.log))
  if (mean === null || s === null) throw new RangeError('each transition needs at least two repeats')
  return { n, mean, squares: (n - 1) * s ** 2 }
}
